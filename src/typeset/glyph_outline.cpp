#include "typeset/glyph_outline.h"

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

}  // namespace debossier::typeset
