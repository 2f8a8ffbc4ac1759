#include "typeset/glyph_outline.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace debossier::typeset {

namespace {

using outline::Contour;
using outline::Outline;
using outline::Point;

Point ToPoint(const FT_Vector* v) { return {static_cast<double>(v->x), static_cast<double>(v->y)}; }

/// Collects what FT_Outline_Decompose reports.
struct Collector {
  Outline outline;
  Point pen = Point::Zero();

  Contour& contour() { return outline.contours.back(); }
};

int MoveTo(const FT_Vector* to, void* user) {
  auto& collector = *static_cast<Collector*>(user);
  collector.pen = ToPoint(to);
  collector.outline.contours.push_back({collector.pen, {}});
  return 0;
}

int LineTo(const FT_Vector* to, void* user) {
  auto& collector = *static_cast<Collector*>(user);
  const Point end = ToPoint(to);
  if (end == collector.pen) return 0;
  collector.contour().segments.push_back({true, Point::Zero(), Point::Zero(), end});
  collector.pen = end;
  return 0;
}

int ConicTo(const FT_Vector* control, const FT_Vector* to, void* user) {
  auto& collector = *static_cast<Collector*>(user);
  const Point middle = ToPoint(control);
  const Point end = ToPoint(to);
  // Degree elevation.
  collector.contour().segments.push_back(
      {false, (collector.pen + 2 * middle) / 3, (end + 2 * middle) / 3, end});
  collector.pen = end;
  return 0;
}

int CubicTo(const FT_Vector* control1, const FT_Vector* control2, const FT_Vector* to, void* user) {
  auto& collector = *static_cast<Collector*>(user);
  collector.pen = ToPoint(to);
  collector.contour().segments.push_back(
      {false, ToPoint(control1), ToPoint(control2), collector.pen});
  return 0;
}

/// How many more samples of the contour have the fill on the right only than on the left only.
int VotesForRight(const Contour& contour, const std::vector<outline::Polyline>& polygons,
                  double step_aside) {
  constexpr double kSamples = 24;
  Outline alone;
  alone.contours.push_back(contour);
  int votes = 0;
  for (const auto& sample : SampleEdge(alone, Perimeter(alone) / kSamples)) {
    const bool right = outline::Contains(polygons, sample.point + step_aside * sample.normal);
    const bool left = outline::Contains(polygons, sample.point - step_aside * sample.normal);
    votes += static_cast<int>(right && !left) - static_cast<int>(left && !right);
  }
  return votes;
}

}  // namespace

std::optional<Outline> FromFreeType(const FT_Outline& glyph) {
  FT_Outline_Funcs functions{};
  functions.move_to = MoveTo;
  functions.line_to = LineTo;
  functions.conic_to = ConicTo;
  functions.cubic_to = CubicTo;
  Collector collector;
  FT_Outline copy = glyph;  // FreeType takes it without const; it only reads.
  if (FT_Outline_Decompose(&copy, &functions, &collector) != 0) return std::nullopt;
  auto& contours = collector.outline.contours;
  for (Contour& contour : contours) {
    if (!contour.segments.empty() && contour.segments.back().end != contour.start) {
      contour.segments.push_back({true, Point::Zero(), Point::Zero(), contour.start});
    }
  }
  std::erase_if(contours, [](const Contour& c) { return SignedArea(c) == 0; });
  return collector.outline;
}

Outline WithFillOnLeft(const Outline& glyph) {
  Outline turned;
  const bool clockwise = SignedArea(glyph) < 0;
  for (const Contour& contour : glyph.contours) {
    turned.contours.push_back(clockwise ? Reversed(contour) : contour);
  }
  const outline::Box box = Bounds(turned);
  if (box.empty()) return turned;
  const double diagonal = std::hypot(box.width(), box.height());
  const auto polygons = Flatten(turned, 1e-4 * diagonal);
  for (Contour& contour : turned.contours) {
    if (VotesForRight(contour, polygons, 1e-3 * diagonal) > 0) contour = Reversed(contour);
  }
  return turned;
}

}  // namespace debossier::typeset
