#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <string_view>

#include "outline/checked_xml.h"
#include "outline/glif.h"
#include "outline/plist.h"
#include "outline/ufo.h"

namespace debossier::outline {

namespace {

namespace fs = std::filesystem;

Unexpected Unreadable(const fs::path& where, std::string message) {
  return Refuse(ErrorCode::kSetUnreadable, "outline", where.string(), std::move(message),
                "restore the folder, or save it as UFO 3 from a font editor");
}

/// True for a plain name of something inside its folder.
bool StaysInFolder(const std::string& name) {
  return !name.empty() && name != "." && name != ".." && name.size() <= 255 &&
         name.find_first_of("/\\") == std::string::npos &&
         std::none_of(name.begin(), name.end(),
                      [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; });
}

using NameAndFile = std::pair<std::string, std::string>;

/// Reads one UFO folder, keeping count of what it costs.
class Reader {
 public:
  Reader(fs::path folder, const UfoLimits& limits)
      : folder_(std::move(folder)), limits_(limits), points_left_(limits.max_total_points) {
    xml_limits_.max_bytes = limits.max_file_bytes;
  }

  Result<UfoFont> Read() {
    if (const auto step = ReadMetainfo(); !step) return PassOn(step);
    if (const auto step = ReadFontinfo(); !step) return PassOn(step);
    if (const auto step = ReadLayers(); !step) return PassOn(step);
    auto contents = ReadContents();
    if (!contents) return PassOn(contents);
    const auto order = ReadGlyphOrder();
    if (!order) return PassOn(order);
    for (const NameAndFile& entry : Ordered(*std::move(contents), *order)) {
      if (const auto step = ReadGlyph(entry); !step) return PassOn(step);
    }
    return std::move(font_);
  }

 private:
  using Done = Result<std::monostate>;
  using Document = std::unique_ptr<pugi::xml_document>;

  Result<Document> LoadPlist(const fs::path& path) {
    return LoadXml(path, DocumentType::kPropertyList, xml_limits_, bytes_read_);
  }

  /// The entries of the dictionary in `file`; empty where `file` may be absent and is.
  Result<std::pair<Document, PlistEntries>> LoadDictionary(const fs::path& path,
                                                           bool may_be_absent) {
    std::error_code ignored;
    if (may_be_absent && fs::symlink_status(path, ignored).type() == fs::file_type::not_found) {
      return std::pair<Document, PlistEntries>{};
    }
    auto document = LoadPlist(path);
    if (!document) return PassOn(document);
    const pugi::xml_node root = PlistRoot(**document, "dict");
    auto entries = Entries(root);
    if (!root || !entries) return Unreadable(path, "is not a property list with a dictionary");
    return std::pair{*std::move(document), *std::move(entries)};
  }

  Done ReadMetainfo() {
    const fs::path path = folder_ / "metainfo.plist";
    const auto loaded = LoadDictionary(path, false);
    if (!loaded) return PassOn(loaded);
    const auto version = NumberOf(ValueOf(loaded->second, "formatVersion"));
    if (!version) return Unreadable(path, "does not say which UFO version it has");
    if (*version > 3) {
      return Refuse(ErrorCode::kNewerFormat, "outline", folder_.string(),
                    fmt::format("has UFO version {}, newer than 3", *version),
                    "save it as UFO 3 or use a newer version of this program");
    }
    if (*version < 3) {
      return Unreadable(folder_, fmt::format("has UFO version {}, older than 3", *version));
    }
    return std::monostate{};
  }

  Done ReadFontinfo() {
    const fs::path path = folder_ / "fontinfo.plist";
    const auto loaded = LoadDictionary(path, true);
    if (!loaded) return PassOn(loaded);
    const PlistEntries& entries = loaded->second;
    font_.family_name = StringOf(ValueOf(entries, "familyName")).value_or("");
    font_.note = StringOf(ValueOf(entries, "note")).value_or("");
    const std::pair<const char*, double*> numbers[] = {{"unitsPerEm", &font_.units_per_em},
                                                       {"capHeight", &font_.cap_height},
                                                       {"xHeight", &font_.x_height},
                                                       {"ascender", &font_.ascender},
                                                       {"descender", &font_.descender}};
    for (const auto& [key, target] : numbers) {
      const pugi::xml_node value = ValueOf(entries, key);
      if (!value) continue;
      const auto number = NumberOf(value);
      if (!number) return Unreadable(path, fmt::format("has a {} that is no number in range", key));
      *target = *number;
    }
    if (!(font_.units_per_em > 0)) return Unreadable(path, "has a unitsPerEm that is not positive");
    return std::monostate{};
  }

  /// Only the default layer is read; it must be listed and lie in "glyphs".
  Done ReadLayers() {
    const fs::path path = folder_ / "layercontents.plist";
    const auto document = LoadPlist(path);
    if (!document) return PassOn(document);
    bool has_default = false;
    for (const pugi::xml_node& layer : PlistRoot(**document, "array").children("array")) {
      const auto name = StringOf(layer.last_child());
      if (!name || !StaysInFolder(*name))
        return Unreadable(path, "names a layer outside the folder");
      has_default = has_default || *name == "glyphs";
    }
    if (!has_default) return Unreadable(path, "does not list the default layer, \"glyphs\"");
    std::error_code ignored;
    const fs::file_status status = fs::symlink_status(folder_ / "glyphs", ignored);
    if (status.type() != fs::file_type::directory) {
      return Unreadable(folder_ / "glyphs", "is not a folder");
    }
    return std::monostate{};
  }

  Result<std::vector<NameAndFile>> ReadContents() {
    const fs::path path = folder_ / "glyphs" / "contents.plist";
    const auto loaded = LoadDictionary(path, false);
    if (!loaded) return PassOn(loaded);
    if (std::ssize(loaded->second) > limits_.max_glyphs) {
      return Unreadable(path, fmt::format("lists more than {} glyphs", limits_.max_glyphs));
    }
    std::vector<NameAndFile> contents;
    std::set<std::string> files;
    for (const auto& [name, value] : loaded->second) {
      const auto file = StringOf(value);
      if (name.empty() || !file || !StaysInFolder(*file)) {
        return Unreadable(path, "names a glyph file outside the folder");
      }
      if (!files.insert(*file).second) return Unreadable(path, "names a glyph file twice");
      contents.emplace_back(name, *file);
    }
    return contents;
  }

  Result<std::vector<std::string>> ReadGlyphOrder() {
    const auto loaded = LoadDictionary(folder_ / "lib.plist", true);
    if (!loaded) return PassOn(loaded);
    std::vector<std::string> order;
    for (const pugi::xml_node& name : ValueOf(loaded->second, "public.glyphOrder").children()) {
      order.push_back(StringOf(name).value_or(""));
    }
    return order;
  }

  /// As glyphOrder has it, then the glyphs it leaves out by name.
  static std::vector<NameAndFile> Ordered(std::vector<NameAndFile> contents,
                                          const std::vector<std::string>& order) {
    std::map<std::string, std::size_t> rank;
    for (std::size_t i = 0; i < order.size(); ++i) rank.emplace(order[i], i);
    const auto rank_of = [&](const NameAndFile& entry) {
      const auto found = rank.find(entry.first);
      return std::pair(found == rank.end() ? order.size() : found->second, entry.first);
    };
    std::sort(contents.begin(), contents.end(),
              [&](const auto& a, const auto& b) { return rank_of(a) < rank_of(b); });
    return contents;
  }

  Done ReadGlyph(const NameAndFile& entry) {
    const fs::path path = folder_ / "glyphs" / entry.second;
    const auto document = LoadXml(path, DocumentType::kRefused, xml_limits_, bytes_read_);
    if (!document) return PassOn(document);
    if (bytes_read_ > limits_.max_total_bytes) {
      return Refuse(ErrorCode::kOverLimit, "outline", folder_.string(),
                    fmt::format("has more than {} bytes in all", limits_.max_total_bytes),
                    "keep only the glyphs that the lettering needs");
    }
    const int points_left = std::min(limits_.max_points_per_glyph, points_left_);
    auto glyph = ReadGlif(**document, path.string(), points_left);
    if (!glyph) return PassOn(glyph);
    for (const Contour& contour : glyph->outline.contours) {
      points_left_ -= static_cast<int>(contour.segments.size());
    }
    if (glyph->name != entry.first) {
      return Unreadable(path, "holds another glyph than contents.plist says");
    }
    font_.glyphs.push_back(*std::move(glyph));
    return std::monostate{};
  }

  fs::path folder_;
  UfoLimits limits_;
  int points_left_;
  XmlLimits xml_limits_;
  std::uint64_t bytes_read_ = 0;
  UfoFont font_;
};

}  // namespace

Result<UfoFont> LoadUfo(const std::filesystem::path& folder, const UfoLimits& limits) {
  return Reader(folder, limits).Read();
}

}  // namespace debossier::outline
