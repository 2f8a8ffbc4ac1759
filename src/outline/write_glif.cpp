#include <fmt/format.h>

#include <cmath>
#include <string_view>

#include "base/text_forms.h"
#include "outline/cubic.h"
#include "outline/glif.h"

namespace debossier::outline {

namespace {

/// Directions of travel just before and just after the on-curve point that ends segment `i`.
struct Directions {
  Point before = Point::Zero();
  Point after = Point::Zero();
};

Point DirectionOf(const Point& start, const Segment& segment, double t) {
  if (!segment.is_line) return CubicOf(start, segment).DirectionAt(t);
  const Point step = segment.end - start;
  return step.norm() > 0 ? step.normalized() : Point(0, 0);
}

Directions DirectionsAt(const Contour& contour, std::size_t i) {
  const auto& segments = contour.segments;
  const std::size_t next = (i + 1) % segments.size();
  const Point from = i > 0 ? segments[i - 1].end : contour.start;
  return {DirectionOf(from, segments[i], 1), DirectionOf(segments[i].end, segments[next], 0)};
}

/// An editor keeps handles at a smooth point in line. Between two lines the mark means nothing.
bool IsSmooth(const Contour& contour, std::size_t i) {
  const auto& segments = contour.segments;
  if (segments[i].is_line && segments[(i + 1) % segments.size()].is_line) return false;
  constexpr double kCosineOfHalfDegree = 0.99996;
  const Directions directions = DirectionsAt(contour, i);
  return directions.before.dot(directions.after) > kCosineOfHalfDegree;
}

std::string PointText(const Point& at, std::string_view attributes) {
  return fmt::format("      <point x=\"{}\" y=\"{}\"{}/>\n", NumberText(at.x()), NumberText(at.y()),
                     attributes);
}

std::string OnCurveText(const Contour& contour, std::size_t i) {
  return PointText(contour.segments[i].end,
                   fmt::format(" type=\"{}\"{}", contour.segments[i].is_line ? "line" : "curve",
                               IsSmooth(contour, i) ? " smooth=\"yes\"" : ""));
}

/// The start point comes first and tells how the last segment reaches it; that segment's off-curve
/// points close the list.
std::string ContourText(const Contour& contour) {
  const std::size_t last = contour.segments.size() - 1;
  std::string text = "    <contour>\n" + OnCurveText(contour, last);
  for (std::size_t i = 0; i <= last; ++i) {
    const Segment& segment = contour.segments[i];
    if (!segment.is_line) text += PointText(segment.control1, "") + PointText(segment.control2, "");
    if (i < last) text += OnCurveText(contour, i);
  }
  return text + "    </contour>\n";
}

}  // namespace

std::string NumberText(double number) {
  std::string text = fmt::format("{:.3f}", number);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return text == "-0" ? "0" : text;
}

std::string GlifText(const UfoGlyph& glyph) {
  std::string text = fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<glyph name=\"{}\" format=\"2\">\n"
      "  <advance width=\"{}\"/>\n",
      MarkupText(glyph.name), NumberText(glyph.advance));
  for (const char32_t code_point : glyph.unicodes) {
    text += fmt::format("  <unicode hex=\"{:04X}\"/>\n", static_cast<std::uint32_t>(code_point));
  }
  text += "  <outline>\n";
  for (const Contour& contour : glyph.outline.contours) {
    if (!contour.segments.empty()) text += ContourText(contour);
  }
  return text + "  </outline>\n</glyph>\n";
}

}  // namespace debossier::outline
