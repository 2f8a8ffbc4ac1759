#include "simulate/ufo_layout.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/unicode.h"

namespace debossier::simulate {
namespace {

using outline::Affine;
using outline::Box;
using outline::Element;
using outline::ElementKind;
using outline::Lettering;
using outline::Point;
using outline::UfoGlyph;

const UfoGlyph* GlyphFor(const outline::UfoFont& font, const std::string& character) {
  const char32_t code_point = CodePoint(character);
  for (const UfoGlyph& glyph : font.glyphs) {
    if (std::find(glyph.unicodes.begin(), glyph.unicodes.end(), code_point) !=
        glyph.unicodes.end()) {
      return &glyph;
    }
  }
  return nullptr;
}

Unexpected Missing(const std::string& character) {
  return Refuse(ErrorCode::kTextNotCovered, "simulate", character,
                "the alphabet does not have this character", "use another alphabet or text");
}

double FlatHeight(const outline::UfoFont& font, const std::string& character, double otherwise) {
  const UfoGlyph* glyph = GlyphFor(font, character);
  if (glyph == nullptr || glyph->outline.empty()) return otherwise;
  return outline::Bounds(glyph->outline).max.y();
}

/// One line from x = 0 on its baseline, in cap heights of the wordmark.
Result<std::vector<Element>> SetUfoLine(const outline::UfoFont& font, double cap_height,
                                        const typeset::LineSpec& line, int line_idx) {
  std::vector<Element> elements;
  const double scale = line.height / cap_height;
  double pen = 0;
  int index = 0;
  for (const std::string& character : outline::Characters(line.text)) {
    const UfoGlyph* glyph = GlyphFor(font, character);
    if (glyph == nullptr && !IsSpace(character)) return Missing(character);
    const double advance = glyph == nullptr ? 0.45 * cap_height : glyph->advance;
    if (glyph != nullptr && !glyph->outline.empty()) {
      const Affine map{scale * Eigen::Matrix2d::Identity(), Point(pen, line.baseline)};
      elements.push_back({fmt::format("{}.{}", line.id, index), line_idx, ElementKind::kLetter,
                          character, outline::Transformed(glyph->outline, map)});
    }
    pen += scale * advance + line.tracking * line.height;
    ++index;
  }
  return elements;
}

Box InkBox(const std::vector<Element>& elements) {
  Box box;
  for (const Element& element : elements) box.Add(outline::Bounds(element.outline));
  return box;
}

void Shift(std::vector<Element>& elements, double dx) {
  const Affine map{Eigen::Matrix2d::Identity(), Point(dx, 0)};
  for (Element& element : elements) element.outline = outline::Transformed(element.outline, map);
}

}  // namespace

Result<Lettering> LayOutUfo(const outline::UfoFont& font,
                            const std::vector<typeset::LineSpec>& lines,
                            const typeset::MarkSpec& mark, const outline::Frame& frame) {
  if (lines.empty()) {
    return Refuse(ErrorCode::kUsage, "simulate", "", "there is no text to lay out", "give a line");
  }
  const double cap_height = FlatHeight(font, "H", font.cap_height);
  const double x_height = FlatHeight(font, "x", font.x_height) / cap_height;
  Lettering die;
  die.frame = frame;
  Box wordmark;
  for (std::size_t k = 0; k < lines.size(); ++k) {
    auto elements = SetUfoLine(font, cap_height, lines[k], static_cast<int>(k));
    if (!elements) return PassOn(elements);
    const Box ink = InkBox(*elements);
    if (ink.empty()) {
      return Refuse(ErrorCode::kUsage, "simulate", lines[k].id, "the line has no letters",
                    "give the text of the line as it is stamped");
    }
    Shift(*elements, k == 0 ? -ink.min.x() : wordmark.centre().x() - ink.centre().x());
    if (k == 0) wordmark = InkBox(*elements);
    die.lines.push_back({lines[k].id, lines[k].text, lines[k].baseline, lines[k].height,
                         lines[k].height * x_height});
    die.elements.insert(die.elements.end(), elements->begin(), elements->end());
  }
  if (mark.character.empty()) return die;
  const UfoGlyph* sign = GlyphFor(font, mark.character);
  if (sign == nullptr || sign->outline.empty()) return Missing(mark.character);
  const Box ink = outline::Bounds(sign->outline);
  const double scale = mark.size / ink.height();
  const Affine map{scale * Eigen::Matrix2d::Identity(),
                   Point(wordmark.max.x() + mark.gap, mark.rise) - scale * ink.min};
  die.elements.push_back(
      {"mark", 0, ElementKind::kMark, mark.character, outline::Transformed(sign->outline, map)});
  return die;
}

}  // namespace debossier::simulate
