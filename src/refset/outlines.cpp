#include "refset/outlines.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "base/files.h"
#include "base/unicode.h"

namespace debossier::refset {

namespace {

constexpr double kUnitsPerCap = 700;

void AppendPoint(std::string& text, const outline::Point& p) {
  text += fmt::format(" {},{}", std::llround(p.x() * 1000), std::llround(p.y() * 1000));
}

}  // namespace

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

Result<std::monostate> PlaceOutlines(const outline::UfoFont& font,
                                     const std::vector<ParsedSet::Glyph>& glyphs,
                                     const std::string& where, outline::Lettering& lettering) {
  DEBOSSIER_ASSERT(glyphs.size() == lettering.elements.size());
  for (std::size_t i = 0; i < glyphs.size(); ++i) {
    const auto& wanted = glyphs[i];
    const auto glyph = std::find_if(font.glyphs.begin(), font.glyphs.end(),
                                    [&](const auto& g) { return g.name == wanted.name; });
    if (glyph == font.glyphs.end() || glyph->outline.empty()) {
      return Refuse(ErrorCode::kSetUnreadable, "refset", where,
                    fmt::format("has no outline for \"{}\"", wanted.name),
                    "restore the set and its outlines from a backup, or build it again");
    }
    outline::Affine place;
    place.linear = Eigen::Matrix2d::Identity() / font.cap_height;
    place.offset = wanted.origin;
    lettering.elements[i].outline = outline::Transformed(glyph->outline, place);
  }
  return std::monostate{};
}

std::string Digest(const outline::UfoFont& font) {
  std::map<std::string, const outline::UfoGlyph*> sorted;
  for (const auto& g : font.glyphs) sorted[g.name] = &g;
  std::string text = fmt::format("cap {}\n", std::llround(font.cap_height * 1000));
  for (const auto& [name, glyph] : sorted) {
    text += fmt::format("glyph {}:{}\n", name.size(), name);
    for (const auto& contour : glyph->outline.contours) {
      text += "contour";
      AppendPoint(text, contour.start);
      for (const auto& s : contour.segments) {
        text += s.is_line ? " l" : " c";
        if (!s.is_line) {
          AppendPoint(text, s.control1);
          AppendPoint(text, s.control2);
        }
        AppendPoint(text, s.end);
      }
      text += "\n";
    }
  }
  return Sha256Hex(text);
}

}  // namespace debossier::refset
