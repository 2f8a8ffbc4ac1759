#include "batch/csv.h"

#include <fmt/format.h>

#include "base/unicode.h"

namespace debossier::batch {

namespace {

constexpr std::size_t kMostFields = 64;
constexpr std::size_t kLongestField = 16'384;
constexpr std::size_t kMostRecords = 50'001;

// Reads one record after the other; `line_` is that of the next character.
class Reader {
 public:
  Reader(std::string_view text, std::string where) : text_(text), where_(std::move(where)) {}

  Result<std::vector<CsvRecord>> All() {
    std::vector<CsvRecord> records;
    while (at_ < text_.size()) {
      CsvRecord record{line_, {}};
      do {
        auto field = Field();
        if (!field) return PassOn(field);
        record.fields.push_back(*std::move(field));
        if (record.fields.size() > kMostFields) return Fault(record.line, "has too many fields");
      } while (Take(','));
      EndLine();
      if (record.fields.size() == 1 && record.fields[0].empty()) continue;
      records.push_back(std::move(record));
      if (records.size() > kMostRecords) return Fault(line_, "is past the 50,000 rows accepted");
    }
    return records;
  }

 private:
  Unexpected Fault(int line, const std::string& what, const std::string& hint = "") const {
    return Refuse(ErrorCode::kManifestUnsound, "batch", where_,
                  fmt::format("line {} {}", line, what),
                  hint.empty() ? "save the table as CSV with commas (RFC 4180)" : hint);
  }
  bool Take(char c) {
    if (at_ >= text_.size() || text_[at_] != c) return false;
    ++at_;
    return true;
  }
  bool AtLineEnd() const { return at_ >= text_.size() || text_[at_] == '\n' || text_[at_] == '\r'; }
  // CRLF, LF or CR as one line end.
  void EndLine() {
    if (at_ >= text_.size()) return;
    const bool carriage_return = Take('\r');
    if (!Take('\n') && !carriage_return) return;
    ++line_;
  }
  Result<std::string> Field() { return Take('"') ? Quoted() : Plain(); }
  Result<std::string> Plain() {
    const std::size_t start = at_;
    while (!AtLineEnd() && text_[at_] != ',') {
      if (text_[at_] == '"') {
        return Fault(line_, "has a quote inside a field without quotes",
                     "put the whole field in quotes and double the quotes inside");
      }
      ++at_;
    }
    if (at_ - start > kLongestField) return Fault(line_, "has a field that is too long");
    return std::string(text_.substr(start, at_ - start));
  }
  Result<std::string> Quoted() {
    const int opened = line_;
    std::string field;
    while (true) {
      if (at_ >= text_.size()) {
        return Fault(opened, "opens a quote that is never closed", "close the quote");
      }
      if (Take('"')) {
        if (!Take('"')) break;
        field += '"';
        continue;
      }
      const bool ends_line = text_[at_] == '\n' || (text_[at_] == '\r' && !NextIs('\n'));
      line_ += ends_line;
      field += text_[at_++];
      if (field.size() > kLongestField) {
        return Fault(opened, "has a field that is too long", "close its quote or shorten it");
      }
    }
    if (!AtLineEnd() && text_[at_] != ',') {
      return Fault(line_, "has text after a closing quote",
                   "put the whole field in quotes and double the quotes inside");
    }
    return field;
  }
  bool NextIs(char c) const { return at_ + 1 < text_.size() && text_[at_ + 1] == c; }

  std::string_view text_;
  std::string where_;
  std::size_t at_ = 0;
  int line_ = 1;
};

int LineOfDamage(std::string_view text) {
  int line = 1;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size() - 1);
    if (!IsUtf8(text.substr(0, end + 1))) return line;
    text.remove_prefix(end + 1);
    ++line;
  }
  return line;
}

}  // namespace

Result<std::vector<CsvRecord>> ParseCsv(std::string_view text, const std::string& where) {
  const auto refuse = [&](const std::string& what, const std::string& hint) {
    return Refuse(ErrorCode::kManifestUnsound, "batch", where, what, hint);
  };
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF")) {
    return refuse("line 1 is UTF-16", "save the table as CSV in UTF-8");
  }
  if (!IsUtf8(text)) {
    return refuse(fmt::format("line {} is not UTF-8", LineOfDamage(text)),
                  "save the table as CSV in UTF-8");
  }
  const std::string_view header = text.substr(0, text.find_first_of("\r\n"));
  for (const char c : {';', '\t'}) {
    if (header.find(c) != std::string_view::npos && header.find(',') == std::string_view::npos) {
      return refuse(fmt::format("line 1 parts its columns by {}", c == ';' ? "semicolons" : "tabs"),
                    "save the table as CSV with commas (RFC 4180)");
    }
  }
  return Reader(text, where).All();
}

std::string CsvLine(const std::vector<std::string>& fields) {
  std::string line;
  for (std::size_t i = 0; i < fields.size(); ++i) {
    if (i > 0) line += ',';
    if (fields[i].find_first_of(",\"\r\n") == std::string::npos) {
      line += fields[i];
      continue;
    }
    line += '"';
    for (const char c : fields[i]) line += c == '"' ? std::string("\"\"") : std::string(1, c);
    line += '"';
  }
  return line + "\r\n";
}

std::string NoFormula(const std::string& text) {
  const bool runs =
      !text.empty() && std::string_view("=+-@\t\r").find(text[0]) != std::string::npos;
  return runs ? "'" + text : text;
}

}  // namespace debossier::batch
