#include <algorithm>
#include <cmath>

#include "base/result.h"
#include "outline/cubic.h"
#include "outline/outline.h"

namespace debossier::outline {

namespace {

/// How many equal steps in t keep the chords within `tolerance` of the curve: a chord of a curve
/// with second derivative at most M over a step h strays by at most M h^2 / 8, and a cubic's second
/// derivative is largest at an end, six times the second difference of its control points.
int StepsWithin(const Cubic& c, double tolerance) {
  const double second =
      6 * std::max((c.p2 - 2 * c.p1 + c.p0).norm(), (c.p3 - 2 * c.p2 + c.p1).norm());
  const double steps = std::ceil(std::sqrt(second / (8 * tolerance)));
  constexpr double kMaxSteps = 4096;
  return static_cast<int>(std::clamp(steps, 1.0, kMaxSteps));
}

Polyline FlattenContour(const Contour& contour, double tolerance) {
  Polyline polyline{contour.start};
  Point from = contour.start;
  for (const Segment& segment : contour.segments) {
    if (!segment.is_line) {
      const Cubic cubic = CubicOf(from, segment);
      const int steps = StepsWithin(cubic, tolerance);
      for (int i = 1; i < steps; ++i) polyline.push_back(cubic.At(static_cast<double>(i) / steps));
    }
    if (segment.end != polyline.back()) polyline.push_back(segment.end);
    from = segment.end;
  }
  if (polyline.size() > 1 && polyline.back() == polyline.front()) polyline.pop_back();
  return polyline;
}

}  // namespace

std::vector<Polyline> Flatten(const Outline& outline, double tolerance) {
  DEBOSSIER_ASSERT(tolerance > 0);
  std::vector<Polyline> polylines;
  polylines.reserve(outline.contours.size());
  for (const Contour& contour : outline.contours) {
    polylines.push_back(FlattenContour(contour, tolerance));
  }
  return polylines;
}

}  // namespace debossier::outline
