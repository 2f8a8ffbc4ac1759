#include "outline/checked_xml.h"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>

#include "base/files.h"

namespace debossier::outline {

namespace {

/// Reads over XML once, keeping count. It may take more for markup than the parser does, never
/// less.
class Scanner {
 public:
  Scanner(std::string_view xml, DocumentType document_type, const XmlLimits& limits)
      : xml_(xml), document_type_(document_type), limits_(limits) {}

  std::string Fault() {
    if (xml_.find('\0') != std::string_view::npos) return "is not text";
    std::string fault;
    while (fault.empty() && at_ < xml_.size()) {
      if (xml_[at_] == '<') {
        fault = Markup();
      } else if (xml_[at_] == '&') {
        fault = Reference();
      } else {
        ++at_;
      }
    }
    if (fault.empty() && depth_ != 0) return "ends before its last tag is closed";
    return fault;
  }

 private:
  bool StartsWith(std::string_view what) const { return xml_.substr(at_, what.size()) == what; }

  std::string TooMany() const {
    return fmt::format("has more than {} tags and attributes", limits_.max_pieces);
  }

  /// Moves behind the next `end`.
  std::string SkipPast(std::string_view end) {
    const std::size_t found = xml_.find(end, at_);
    if (found == std::string_view::npos) return "has markup that does not end";
    at_ = found + end.size();
    return {};
  }

  std::string Markup() {
    if (++pieces_ > limits_.max_pieces) return TooMany();
    if (StartsWith("<!--")) {
      at_ += 4;
      return SkipPast("-->");
    }
    if (StartsWith("<![CDATA[")) return SkipPast("]]>");
    if (StartsWith("<?")) return SkipPast("?>");
    if (StartsWith("<!")) return Declaration();
    return Tag();
  }

  /// Only the bare `<!DOCTYPE plist ...>` passes: no internal subset, hence no entities. Quotes
  /// must pair up within it, so that the parser ends it at the same place.
  std::string Declaration() {
    const std::size_t end = xml_.find('>', at_);
    if (end == std::string_view::npos) return "has markup that does not end";
    const std::string_view declaration = xml_.substr(at_, end - at_);
    const bool bare = StartsWith("<!DOCTYPE plist") && declaration.size() < 200 &&
                      declaration.find_first_of("[]'&") == std::string_view::npos &&
                      declaration.find('<', 1) == std::string_view::npos &&
                      std::count(declaration.begin(), declaration.end(), '"') % 2 == 0;
    if (document_type_ != DocumentType::kPropertyList || !bare || depth_ != 0) {
      return "has a document type or entities, which are not read";
    }
    at_ = end + 1;
    return {};
  }

  std::string Tag() {
    const bool closes = StartsWith("</");
    char quote = 0;
    for (++at_; at_ < xml_.size(); ++at_) {
      const char c = xml_[at_];
      if (c == '<') return "has a tag within a tag";
      if (c == '&') {
        if (std::string fault = Reference(); !fault.empty()) return fault;
        --at_;
      } else if (quote != 0) {
        if (c == quote) quote = 0;
      } else if (c == '"' || c == '\'') {
        quote = c;
      } else if (c == '=') {
        if (++pieces_ > limits_.max_pieces) return TooMany();
      } else if (c == '>') {
        break;
      }
    }
    if (at_ >= xml_.size()) return "ends within a tag";
    const bool empty = xml_[at_ - 1] == '/';
    ++at_;
    if (closes) return --depth_ < 0 ? "closes a tag that is not open" : "";
    if (depth_ + 1 > limits_.max_depth) {
      return fmt::format("is nested deeper than {} tags", limits_.max_depth);
    }
    if (!empty) ++depth_;
    return {};
  }

  std::string Reference() {
    const std::size_t end = xml_.find(';', at_);
    const std::string_view name =
        end == std::string_view::npos ? "" : xml_.substr(at_ + 1, end - at_ - 1);
    const auto is_number = [&] {
      if (name.size() < 2 || name.size() > 8 || name[0] != '#') return false;
      const bool hex = name[1] == 'x';
      const std::string_view digits = name.substr(hex ? 2 : 1);
      return !digits.empty() &&
             digits.find_first_not_of(hex ? "0123456789abcdefABCDEF" : "0123456789") ==
                 std::string_view::npos;
    };
    if (name != "lt" && name != "gt" && name != "amp" && name != "quot" && name != "apos" &&
        !is_number()) {
      return "has a document type or entities, which are not read";
    }
    at_ = end + 1;
    return {};
  }

  std::string_view xml_;
  DocumentType document_type_;
  const XmlLimits& limits_;
  std::size_t at_ = 0;
  int depth_ = 0;
  int pieces_ = 0;
};

Unexpected Unreadable(const std::filesystem::path& path, std::string message) {
  return Refuse(ErrorCode::kSetUnreadable, "outline", path.string(), std::move(message),
                "restore the file from the set as it was published");
}

}  // namespace

std::string FaultInXml(const std::string& xml, DocumentType document_type,
                       const XmlLimits& limits) {
  return Scanner(xml, document_type, limits).Fault();
}

Result<std::unique_ptr<pugi::xml_document>> ParseXml(const std::string& xml,
                                                     const std::filesystem::path& path,
                                                     DocumentType document_type,
                                                     const XmlLimits& limits) {
  const std::string fault = FaultInXml(xml, document_type, limits);
  if (!fault.empty()) return Unreadable(path, fault);
  auto document = std::make_unique<pugi::xml_document>();
  const pugi::xml_parse_result parsed =
      document->load_buffer(xml.data(), xml.size(), pugi::parse_default, pugi::encoding_utf8);
  if (!parsed) {
    return Unreadable(path, fmt::format("is not well-formed XML at byte {}: {}", parsed.offset,
                                        parsed.description()));
  }
  return document;
}

Result<std::unique_ptr<pugi::xml_document>> LoadXml(const std::filesystem::path& path,
                                                    DocumentType document_type,
                                                    const XmlLimits& limits,
                                                    std::uint64_t& bytes_read) {
  std::error_code ignored;
  if (std::filesystem::is_symlink(std::filesystem::symlink_status(path, ignored))) {
    return Unreadable(path, "is a symbolic link, which may lead out of the folder");
  }
  auto bytes = LoadFile(path, limits.max_bytes, "outline");
  if (!bytes) {
    Error error = bytes.error();
    if (error.code == ErrorCode::kFileMissing) error.code = ErrorCode::kSetUnreadable;
    return Unexpected(std::move(error));
  }
  bytes_read += bytes->size();
  return ParseXml(*bytes, path, document_type, limits);
}

}  // namespace debossier::outline
