// Reads a manifest: header, rows, and every mistake with its line.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>
#include <optional>
#include <system_error>

#include "base/unicode.h"
#include "batch/csv.h"
#include "batch/plan.h"
#include "refset/refset.h"

namespace debossier::batch {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t kMostTold = 20;
constexpr std::array kColumns = {"photo", "item", "set", "crop", "notes"};

std::string Trimmed(const std::string& text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string::npos) return "";
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

// Mistakes of one manifest, each with its line and mend.
class Mistakes {
 public:
  void Add(int line, const std::string& what, const std::string& mend) {
    ++count_;
    if (count_ <= kMostTold) told_ += fmt::format("\n  line {}: {}; {}", line, what, mend);
  }
  bool any() const { return count_ > 0; }
  Unexpected Told(const std::string& where) const {
    std::string text = fmt::format("has {} mistake{}{}", count_, count_ == 1 ? "" : "s", told_);
    if (count_ > kMostTold) text += fmt::format("\n  and {} more", count_ - kMostTold);
    return Refuse(ErrorCode::kManifestUnsound, "batch", where, text, "");
  }

 private:
  std::size_t count_ = 0;
  std::string told_;
};

/// Column of the table for each of kColumns; nothing where it is absent.
using Columns = std::array<std::optional<std::size_t>, kColumns.size()>;

Columns ReadHeader(const CsvRecord& header, Mistakes& mistakes) {
  Columns columns;
  for (std::size_t i = 0; i < header.fields.size(); ++i) {
    std::string name = Trimmed(header.fields[i]);
    std::transform(name.begin(), name.end(), name.begin(),
                   [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
    const auto known = std::find(kColumns.begin(), kColumns.end(), name);
    if (known == kColumns.end()) {
      mistakes.Add(header.line, fmt::format("column \"{}\" is unknown", OneLine(name)),
                   "name columns photo, item, set, crop and notes; other remarks go into notes");
      continue;
    }
    auto& column = columns[static_cast<std::size_t>(known - kColumns.begin())];
    if (column) {
      mistakes.Add(header.line, fmt::format("column \"{}\" is there twice", name), "keep one");
    }
    column = i;
  }
  if (!columns[0]) {
    mistakes.Add(header.line, "there is no column \"photo\"",
                 "begin the table with a row of column names");
  }
  return columns;
}

// `photo` as a path inside the folder of photos; empty where it leads out.
std::string NameInside(const std::string& photo, const fs::path& photos) {
  fs::path path(photo);
  if (path.is_absolute()) {
    path = path.lexically_normal().lexically_relative(fs::absolute(photos).lexically_normal());
  }
  path = path.lexically_normal();
  if (path.empty() || path == "." || *path.begin() == "..") return "";
  std::error_code error;
  const fs::path root = fs::canonical(photos, error);
  const fs::path real = fs::weakly_canonical(photos / path, error);
  if (error) return path.string();  // opening it will say what is wrong
  const auto [left, unused] = std::mismatch(root.begin(), root.end(), real.begin(), real.end());
  return left == root.end() ? path.string() : "";
}

void CheckRow(const Entry& entry, Mistakes& mistakes) {
  if (entry.set.empty()) {
    mistakes.Add(entry.line, "no reference set is named",
                 "fill in the column set, or name one for all rows with --set");
  } else if (!refset::IsValidId(entry.set)) {
    mistakes.Add(entry.line, fmt::format("\"{}\" is not the id of a set", OneLine(entry.set)),
                 "ids have letters a-z, figures, '-' and '_'");
  }
  if (entry.crop.empty()) return;
  if (!ParseCrop(entry.crop)) {
    mistakes.Add(entry.line, fmt::format("\"{}\" is not a crop", OneLine(entry.crop)),
                 "give \"x,y,width,height\" in photo pixels, in quotes");
  }
}

/// Fills in name and path; false where the row can go no further. Spaces belong to a file's name.
bool FindPhoto(const std::string& photo, const fs::path& photos, const PlanOptions& options,
               Entry& entry, Mistakes& mistakes) {
  if (photo.empty()) {
    mistakes.Add(entry.line, "no photo is named", "fill in the column photo");
    return false;
  }
  entry.name = NameInside(photo, photos);
  if (entry.name.empty()) {
    mistakes.Add(entry.line, fmt::format("\"{}\" leads out of the photos' folder", OneLine(photo)),
                 "put the photo into that folder, or name another with --photos");
    return false;
  }
  entry.path = photos / entry.name;
  if (std::error_code error; options.photos_are_there && !fs::is_regular_file(entry.path, error)) {
    mistakes.Add(entry.line, fmt::format("there is no photo \"{}\"", OneLine(photo)),
                 fmt::format("put it into {}, or correct the name", OneLine(photos.string())));
  }
  return true;
}

}  // namespace

Result<Plan> PlanFromManifest(const std::string& text, const std::string& where,
                              const fs::path& photos, const PlanOptions& options) {
  auto records = ParseCsv(text, where);
  if (!records) return PassOn(records);
  Mistakes mistakes;
  if (records->empty()) {
    mistakes.Add(1, "the table is empty", "begin with a row of column names, at least photo");
    return mistakes.Told(where);
  }
  const Columns columns = ReadHeader(records->front(), mistakes);
  if (mistakes.any()) return mistakes.Told(where);
  Plan plan;
  plan.folder = photos.string();
  std::map<std::string, int> lines;  // by output name
  for (std::size_t i = 1; i < records->size(); ++i) {
    const CsvRecord& record = (*records)[i];
    if (record.fields.size() != records->front().fields.size()) {
      mistakes.Add(record.line,
                   fmt::format("the row has {} fields, the header {}", record.fields.size(),
                               records->front().fields.size()),
                   "put fields with commas in quotes");
      continue;
    }
    const auto field = [&](std::size_t column) {
      return columns[column] ? Trimmed(record.fields[*columns[column]]) : std::string();
    };
    Entry entry{{}, "", field(1), field(2), field(3), field(4), record.line, ""};
    if (entry.set.empty()) entry.set = options.set;
    CheckRow(entry, mistakes);
    if (!FindPhoto(record.fields[*columns[0]], photos, options, entry, mistakes)) continue;
    entry.output_name = OutputName(entry);
    const auto [first, is_new] = lines.emplace(entry.output_name, record.line);
    if (!is_new) {
      mistakes.Add(record.line, fmt::format("repeats line {}", first->second),
                   "keep one row for a photo, set and crop");
      continue;
    }
    plan.entries.push_back(std::move(entry));
  }
  if (!mistakes.any() && plan.entries.empty()) {
    mistakes.Add(records->front().line, "there is no row below the header",
                 "add one row for each photo");
  }
  if (mistakes.any()) return mistakes.Told(where);
  return plan;
}

}  // namespace debossier::batch
