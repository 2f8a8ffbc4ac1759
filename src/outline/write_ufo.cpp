#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <cmath>
#include <cstdio>
#include <set>

#include "base/files.h"
#include "base/text_forms.h"
#include "base/unicode.h"
#include "outline/glif.h"
#include "outline/ufo.h"

namespace debossier::outline {

namespace {

namespace fs = std::filesystem;

using Done = Result<std::monostate>;

constexpr const char* kXmlHead = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";
constexpr double kLargest = 1e6;  ///< As LoadUfo accepts.

bool InRange(double number) { return std::abs(number) <= kLargest; }
bool InRange(const Point& p) { return InRange(p.x()) && InRange(p.y()); }

bool InRange(const UfoGlyph& glyph) {
  const auto contour_in_range = [](const Contour& contour) {
    return InRange(contour.start) &&
           std::all_of(contour.segments.begin(), contour.segments.end(), [](const Segment& s) {
             return InRange(s.end) && (s.is_line || (InRange(s.control1) && InRange(s.control2)));
           });
  };
  const auto& contours = glyph.outline.contours;
  return InRange(glyph.advance) && std::all_of(contours.begin(), contours.end(), contour_in_range);
}

/// Refuses what LoadUfo would refuse to read back.
Done Check(const UfoFont& font, const fs::path& folder) {
  const auto wrong = [&](const std::string& what) {
    return Refuse(ErrorCode::kInternal, "outline", folder.string(), what, "report this as a bug");
  };
  for (const double number :
       {font.units_per_em, font.cap_height, font.x_height, font.ascender, font.descender}) {
    if (!InRange(number)) return wrong("the font has a measure out of range");
  }
  if (!(font.units_per_em > 0)) return wrong("the font has no units per em");
  std::set<std::string> names;
  for (const UfoGlyph& glyph : font.glyphs) {
    if (glyph.name.empty() || OneLine(glyph.name) != glyph.name ||
        !names.insert(glyph.name).second) {
      return wrong("a glyph has no name, a damaged one or that of another");
    }
    if (!InRange(glyph))
      return wrong(fmt::format("glyph {} has a number out of range", glyph.name));
  }
  return std::monostate{};
}

std::string Plist(const std::string& value) {
  return fmt::format("{}<plist version=\"1.0\">\n{}</plist>\n", kXmlHead, value);
}

std::string StringEntry(const char* key, const std::string& value) {
  if (value.empty()) return {};
  return fmt::format("  <key>{}</key>\n  <string>{}</string>\n", key, MarkupText(value));
}

std::string NumberEntry(const char* key, double value) {
  const std::string text = NumberText(value);
  const char* kind = text.find('.') == std::string::npos ? "integer" : "real";
  return fmt::format("  <key>{0}</key>\n  <{1}>{2}</{1}>\n", key, kind, text);
}

std::string MetainfoText() {
  return Plist("<dict>\n" + StringEntry("creator", "debossier") + NumberEntry("formatVersion", 3) +
               "</dict>\n");
}

std::string FontinfoText(const UfoFont& font) {
  return Plist("<dict>\n" + NumberEntry("ascender", font.ascender) +
               NumberEntry("capHeight", font.cap_height) +
               NumberEntry("descender", font.descender) +
               StringEntry("familyName", font.family_name) + StringEntry("note", font.note) +
               NumberEntry("unitsPerEm", font.units_per_em) +
               NumberEntry("xHeight", font.x_height) + "</dict>\n");
}

std::string LayerContentsText() {
  return Plist(
      "<array>\n  <array>\n    <string>public.default</string>\n    <string>glyphs</string>\n"
      "  </array>\n</array>\n");
}

std::string LibText(const UfoFont& font) {
  std::string order;
  for (const UfoGlyph& glyph : font.glyphs) {
    order += fmt::format("    <string>{}</string>\n", MarkupText(glyph.name));
  }
  return Plist("<dict>\n  <key>public.glyphOrder</key>\n  <array>\n" + order +
               "  </array>\n</dict>\n");
}

/// A file name for each glyph, unique without regard to case.
std::vector<std::string> FileNames(const UfoFont& font) {
  std::set<std::string> taken;
  std::vector<std::string> names;
  for (const UfoGlyph& glyph : font.glyphs) {
    const std::string wanted = GlifFileName(glyph.name);
    std::string name = wanted;
    const auto lowered = [&] {
      std::string lower = name;
      for (char& c : lower) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
      return lower;
    };
    for (int number = 1; !taken.insert(lowered()).second; ++number) {
      // Fifteen digits, as the convention has it.
      name = fmt::format("{}{:015}.glif", wanted.substr(0, wanted.size() - 5), number);
    }
    names.push_back(name);
  }
  return names;
}

std::string ContentsText(const UfoFont& font, const std::vector<std::string>& files) {
  std::string entries;
  for (std::size_t i = 0; i < files.size(); ++i) {
    entries += StringEntry(MarkupText(font.glyphs[i].name).c_str(), files[i]);
  }
  return Plist("<dict>\n" + entries + "</dict>\n");
}

Unexpected NotWritable(const fs::path& folder, int error) {
  return Refuse(ErrorCode::kOutputNotWritable, "outline", folder.string(),
                fmt::format("cannot be written: {}",
                            std::error_code(error, std::generic_category()).message()),
                "name a folder that exists, that you may write to and that has room");
}

/// A folder under construction; whatever is in it goes with it unless it was moved into place.
class Workshop {
 public:
  explicit Workshop(const fs::path& beside) {
    static std::atomic<unsigned> count{0};
    do {
      path_ = beside / fmt::format(".ufo.{}.{}.part", ::getpid(), count++);
      error_ = ::mkdir(path_.c_str(), 0755) == 0 ? 0 : errno;
    } while (error_ == EEXIST);
  }
  ~Workshop() {
    std::error_code ignored;
    if (error_ == 0) fs::remove_all(path_, ignored);
  }
  Workshop(const Workshop&) = delete;
  Workshop& operator=(const Workshop&) = delete;

  int error() const { return error_; }
  const fs::path& path() const { return path_; }

 private:
  fs::path path_;
  int error_ = 0;
};

Done WriteInto(const fs::path& folder, const UfoFont& font) {
  const auto put = [](const fs::path& path, const std::string& text) {
    return WriteFileWhole(path, text, IfExists::kRefuse, "outline");
  };
  const std::vector<std::string> files = FileNames(font);
  const fs::path glyphs = folder / "glyphs";
  if (::mkdir(glyphs.c_str(), 0755) != 0) return NotWritable(folder, errno);
  const std::pair<fs::path, std::string> parts[] = {
      {folder / "metainfo.plist", MetainfoText()},
      {folder / "fontinfo.plist", FontinfoText(font)},
      {folder / "layercontents.plist", LayerContentsText()},
      {folder / "lib.plist", LibText(font)},
      {glyphs / "contents.plist", ContentsText(font, files)}};
  for (const auto& [path, text] : parts) {
    if (auto done = put(path, text); !done) return done;
  }
  for (std::size_t i = 0; i < files.size(); ++i) {
    if (auto done = put(glyphs / files[i], GlifText(font.glyphs[i])); !done) return done;
  }
  return std::monostate{};
}

}  // namespace

Result<std::monostate> WriteUfo(const UfoFont& font, const std::filesystem::path& folder) {
  const fs::path target = folder.has_filename() ? folder : folder.parent_path();
  const auto exists = [&] {
    return Refuse(ErrorCode::kOutputExists, "outline", target.string(), "exists already",
                  "remove it or name another folder");
  };
  if (auto checked = Check(font, target); !checked) return checked;
  std::error_code ignored;
  if (fs::symlink_status(target, ignored).type() != fs::file_type::not_found) return exists();
  const Workshop workshop(target.has_parent_path() ? target.parent_path() : fs::path("."));
  if (workshop.error() != 0) return NotWritable(target, workshop.error());
  if (auto written = WriteInto(workshop.path(), font); !written) {
    Error error = written.error();
    error.where = target.string();
    return Unexpected(std::move(error));
  }
  const int error = MoveNew(workshop.path(), target);
  if (error == EEXIST || error == ENOTEMPTY) return exists();
  if (error != 0) return NotWritable(target, error);
  return std::monostate{};
}

}  // namespace debossier::outline
