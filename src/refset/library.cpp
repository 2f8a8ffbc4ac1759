#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <system_error>

#include "base/files.h"
#include "base/unicode.h"
#include "outline/ufo.h"
#include "refset/refset.h"

namespace debossier::refset {

namespace fs = std::filesystem;

namespace {

constexpr double kUnitsPerCap = 700;
constexpr std::uint64_t kMaxSetBytes = 64u << 20;

bool IsPlainName(const std::string& name) {
  return !name.empty() && name.size() <= 120 && name.find('/') == std::string::npos &&
         name.find('\\') == std::string::npos && name[0] != '.';
}

outline::UfoFont FontOf(const RefSet& set) {
  outline::UfoFont font;
  font.family_name = set.id;
  font.note =
      fmt::format("Outlines of reference set {} revision {}; source: {}.{}", set.id, set.revision,
                  set.source, set.simulated ? " Invented maker, simulated photos." : "");
  font.cap_height = kUnitsPerCap;
  std::set<char32_t> taken;
  for (const auto& e : set.lettering.elements) {
    const outline::Box box = outline::Bounds(e.outline);
    outline::UfoGlyph glyph;
    glyph.name = e.id;
    const char32_t code = CodePoint(e.character);
    if (taken.insert(code).second) glyph.unicodes.push_back(code);
    outline::Affine to_units;
    to_units.linear = Eigen::Matrix2d::Identity() * kUnitsPerCap;
    to_units.offset =
        -kUnitsPerCap * outline::Point(box.min.x(), set.lettering.lines[e.line_idx].baseline);
    glyph.outline = outline::Transformed(e.outline, to_units);
    glyph.advance = std::round(std::max(0.0, box.width()) * kUnitsPerCap);
    font.glyphs.push_back(std::move(glyph));
  }
  return font;
}

Error Missing(const Library& library, const std::string& id) {
  return {ErrorCode::kSetMissing, "refset", (library.refsets() / id).string(),
          "there is no such reference set",
          "list the sets with `debossier refset list`, or name the library with --library"};
}

}  // namespace

bool IsValidId(const std::string& id) {
  if (id.empty() || id.size() > 64) return false;
  const auto plain = [](char c) { return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9'); };
  if (!plain(id[0])) return false;
  return std::all_of(id.begin(), id.end(),
                     [&](char c) { return plain(c) || c == '-' || c == '_'; });
}

FeatureStatistics StatisticsOf(const RefSet& set, const std::string& key) {
  FeatureStatistics s;
  double u2 = 0;
  for (const auto& item : set.items) {
    const auto it = item.features.find(key);
    if (it == item.features.end()) continue;
    s.values.push_back(it->second.value);
    s.u.push_back(it->second.u);
    s.mean += it->second.value;
    u2 += it->second.u * it->second.u;
  }
  s.count = static_cast<int>(s.values.size());
  if (s.count == 0) return s;
  s.mean /= s.count;
  s.mean_u = std::sqrt(u2 / s.count);
  for (const double v : s.values) s.deviation += (v - s.mean) * (v - s.mean);
  s.deviation = s.count > 1 ? std::sqrt(s.deviation / (s.count - 1)) : 0;
  return s;
}

Result<RefSet> LoadSet(const Library& library, const std::string& id) {
  if (!IsValidId(id)) {
    return Refuse(ErrorCode::kUsage, "refset", id, "is not the id of a reference set",
                  "ids have letters a-z, figures, '-' and '_'");
  }
  const fs::path file = library.refsets() / id / "set.json";
  std::error_code error;
  if (!fs::exists(file, error)) return Unexpected(Missing(library, id));
  auto bytes = LoadFile(file, kMaxSetBytes, "refset");
  if (!bytes) {
    Error e = bytes.error();
    if (e.code == ErrorCode::kFileMissing) e.code = ErrorCode::kSetUnreadable;
    return Unexpected(std::move(e));
  }
  auto parsed = ParseSet(*bytes, file.string());
  if (!parsed) return PassOn(parsed);
  const auto unreadable = [&](const std::string& what) {
    return Refuse(ErrorCode::kSetUnreadable, "refset", file.string(), what,
                  "restore the set and its outlines from a backup, or build it again");
  };
  if (parsed->set.id != id) return unreadable("names another set than its folder");
  if (!IsPlainName(parsed->outlines_name)) return unreadable("names outlines outside the library");
  auto font = outline::LoadUfo(library.glyphs() / parsed->outlines_name);
  if (!font) return PassOn(font);
  RefSet set = std::move(parsed->set);
  for (std::size_t i = 0; i < set.lettering.elements.size(); ++i) {
    const auto& wanted = parsed->glyphs[i];
    const auto glyph = std::find_if(font->glyphs.begin(), font->glyphs.end(),
                                    [&](const auto& g) { return g.name == wanted.name; });
    if (glyph == font->glyphs.end() || glyph->outline.empty()) {
      return unreadable(fmt::format("has no outline for \"{}\"", wanted.name));
    }
    outline::Affine place;
    place.linear = Eigen::Matrix2d::Identity() / font->cap_height;
    place.offset = wanted.origin;
    set.lettering.elements[i].outline = outline::Transformed(glyph->outline, place);
  }
  return set;
}

Result<std::vector<std::string>> ListSets(const Library& library) {
  std::vector<std::string> ids;
  std::error_code error;
  fs::directory_iterator it(library.refsets(), error);
  if (error) {
    return Refuse(ErrorCode::kSetMissing, "refset", library.refsets().string(),
                  "cannot be listed: " + error.message(),
                  "name the library's folder with --library or DEBOSSIER_LIBRARY");
  }
  for (const auto& entry : it) {
    const std::string name = entry.path().filename().string();
    if (IsValidId(name) && fs::exists(entry.path() / "set.json", error)) ids.push_back(name);
  }
  std::sort(ids.begin(), ids.end());
  return ids;
}

Result<std::monostate> WriteNewSet(const Library& library, const RefSet& set) {
  if (!IsValidId(set.id)) {
    return Refuse(ErrorCode::kUsage, "refset", set.id, "cannot be the id of a reference set",
                  "use 1 to 64 letters a-z, figures, '-' and '_'");
  }
  const fs::path folder = library.refsets() / set.id;
  std::error_code error;
  if (fs::exists(folder, error)) {
    return Refuse(ErrorCode::kOutputExists, "refset", folder.string(), "exists already",
                  "choose another id");
  }
  fs::create_directories(library.refsets(), error);
  if (!error) fs::create_directories(library.glyphs(), error);
  const auto not_writable = [&](const std::string& why) {
    return Refuse(ErrorCode::kOutputNotWritable, "refset", folder.string(),
                  "cannot be written: " + why,
                  "name a library folder that you may write to and that has room");
  };
  if (error) return not_writable(error.message());
  const std::string outlines = fmt::format("{}-r{}.ufo", set.id, set.revision);
  auto written = outline::WriteUfo(FontOf(set), library.glyphs() / outlines);
  if (!written) return PassOn(written);
  // The set is written aside and renamed: it exists whole or not at all.
  const fs::path aside = library.refsets() / fmt::format(".{}.{}.part", set.id, ::getpid());
  fs::create_directory(aside, error);
  Result<std::monostate> status = std::monostate{};
  if (error) {
    status = not_writable(error.message());
  } else {
    status =
        WriteFileWhole(aside / "set.json", SetJson(set, outlines), IfExists::kRefuse, "refset");
    if (status) {
      fs::rename(aside, folder, error);
      if (error) status = not_writable(error.message());
    }
  }
  if (!status) {
    std::error_code ignored;
    fs::remove_all(aside, ignored);
    fs::remove_all(library.glyphs() / outlines, ignored);
  }
  return status;
}

}  // namespace debossier::refset
