#include "typeset/fill_side.h"

#include <cmath>
#include <vector>

namespace debossier::typeset {

namespace {

using outline::Contour;
using outline::Outline;

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
