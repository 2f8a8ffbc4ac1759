#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <optional>
#include <set>
#include <string_view>
#include <utility>

#include "typeset/font.h"

namespace debossier::typeset {

namespace {

using outline::Affine;
using outline::Box;
using outline::Element;
using outline::ElementKind;
using outline::Frame;
using outline::FrameKind;
using outline::Lettering;
using outline::Point;

constexpr std::string_view kMarkId = "mark";
constexpr double kMaxLength = 1000;  ///< Cap heights; nothing stamped is longer.

Unexpected Wrong(const std::string& where, std::string message, std::string hint) {
  return Refuse(ErrorCode::kUsage, "typeset", where, std::move(message), std::move(hint));
}

bool Within(double value, double low, double high) { return value >= low && value <= high; }
bool Within(const Point& p, double low) {
  return Within(p.x(), low, kMaxLength) && Within(p.y(), low, kMaxLength);
}

/// Refuses specifications that leave the stamp frame undefined. No value means all is well.
std::optional<Unexpected> Check(const std::vector<LineSpec>& lines, const MarkSpec& mark,
                                const Frame& frame) {
  if (lines.empty()) return Wrong("", "there is no line to set", "give at least the wordmark");
  std::set<std::string> ids;
  for (const LineSpec& line : lines) {
    if (line.id.empty() || line.id == kMarkId || !ids.insert(line.id).second) {
      return Wrong(line.id, "is not a usable line id",
                   "give each line its own id, other than \"mark\"");
    }
    if (!Within(line.height, 1e-3, kMaxLength) || !Within(line.tracking, -1, kMaxLength) ||
        !Within(line.baseline, -kMaxLength, kMaxLength)) {
      return Wrong(line.id, "has a height, tracking or baseline out of range",
                   "give lengths in cap heights, the height above 0.001");
    }
  }
  if (lines.front().height != 1 || lines.front().baseline != 0) {
    return Wrong(lines.front().id, "is the first line but not the unit of length",
                 "give the first line height 1 and baseline 0");
  }
  if (!mark.character.empty() &&
      (outline::Characters(mark.character).size() != 1 || !Within(mark.size, 1e-3, kMaxLength) ||
       !Within(mark.gap, -kMaxLength, kMaxLength) || !Within(mark.rise, -kMaxLength, kMaxLength))) {
    return Wrong(std::string(kMarkId), "is not one character with a size, gap and rise in range",
                 "give one sign and lengths in cap heights");
  }
  const bool frame_fits = Within(frame.radius, 1e-3) && Within(frame.centre, -kMaxLength) &&
                          Within(frame.line_weight, 1e-4, kMaxLength) && frame.line_idx >= -1 &&
                          frame.line_idx < std::ssize(lines);
  if (frame.kind != FrameKind::kNone && !frame_fits) {
    return Wrong("frame", "has axes, a line weight or a line out of range",
                 "give lengths in cap heights and the index of a line, or -1 for all");
  }
  return std::nullopt;
}

Box InkBox(const std::vector<PlacedGlyph>& glyphs) {
  Box box;
  for (const PlacedGlyph& glyph : glyphs) box.Add(Bounds(glyph.outline));
  return box;
}

/// The elements of one line: scaled to its height, its ink centred on `centre_x` where given.
Result<std::vector<Element>> SetElements(const Font& font, const LineSpec& spec, int line_idx,
                                         std::optional<double> centre_x) {
  const auto glyphs = font.SetLine(spec.text, spec.tracking);
  if (!glyphs) return PassOn(glyphs);
  if (glyphs->empty()) {
    return Wrong(spec.id, "has no letters", "give the text of the line as it is stamped");
  }
  Affine map{spec.height * Eigen::Matrix2d::Identity(), Point(0, spec.baseline)};
  if (centre_x) map.offset.x() = *centre_x - spec.height * InkBox(*glyphs).centre().x();
  std::vector<Element> elements;
  for (const PlacedGlyph& glyph : *glyphs) {
    elements.push_back({fmt::format("{}.{}", spec.id, glyph.index), line_idx, ElementKind::kLetter,
                        glyph.character, Transformed(glyph.outline, map)});
  }
  return elements;
}

Result<Element> SetMark(const Font& font, const MarkSpec& mark, const Box& last_letter) {
  const auto glyphs = font.SetLine(mark.character);
  if (!glyphs) return PassOn(glyphs);
  const Box ink = InkBox(*glyphs);
  if (ink.empty() || !(ink.height() > 0)) {
    return Wrong(std::string(kMarkId), "leaves no ink", "give a sign such as \xC2\xAE");
  }
  const double scale = mark.size / ink.height();
  const Point corner(last_letter.max.x() + mark.gap, mark.rise);
  const Affine map{scale * Eigen::Matrix2d::Identity(), corner - scale * ink.min};
  return Element{std::string(kMarkId), 0, ElementKind::kMark, mark.character,
                 Transformed(glyphs->front().outline, map)};
}

}  // namespace

Result<Lettering> LayOut(const Font& font, const Font* origin_font,
                         const std::vector<LineSpec>& lines, const MarkSpec& mark,
                         const Frame& frame) {
  if (auto wrong = Check(lines, mark, frame)) return *std::move(wrong);
  Lettering lettering;
  lettering.frame = frame;
  std::optional<double> centre_x;
  Box last_letter;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    const LineSpec& spec = lines[i];
    const Font& face = i > 0 && origin_font != nullptr ? *origin_font : font;
    auto elements = SetElements(face, spec, static_cast<int>(i), centre_x);
    if (!elements) return PassOn(elements);
    if (i == 0) {
      Box ink;
      for (const Element& element : *elements) ink.Add(Bounds(element.outline));
      centre_x = ink.centre().x();
      last_letter = Bounds(elements->back().outline);
    }
    const double x_ratio = face.cap_height() > 0 ? face.x_height() / face.cap_height() : 0;
    lettering.lines.push_back({spec.id, spec.text, spec.baseline,
                               face.cap_height() > 0 ? spec.height : 0, x_ratio * spec.height});
    std::move(elements->begin(), elements->end(), std::back_inserter(lettering.elements));
  }
  if (!mark.character.empty()) {
    auto element = SetMark(font, mark, last_letter);
    if (!element) return PassOn(element);
    lettering.elements.push_back(*std::move(element));
  }
  return lettering;
}

}  // namespace debossier::typeset
