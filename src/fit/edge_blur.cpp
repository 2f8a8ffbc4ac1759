#include "fit/edge_blur.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace debossier::fit {

double EdgeBlurPx(const EdgeReader& reader, const std::vector<ElementFit>& elements) {
  constexpr double kWindow = 0.09;  // cap heights
  double slope = 0;
  double length = 0;
  for (const auto& element : elements) {
    if (!element.found) continue;
    const double gain = reader.placement().gain + element.value[kOwnGain];
    for (std::size_t i = 0; i < element.edges.size(); i += 3) {
      if (element.readings[i].kind != EdgeReading::Kind::kEdge) continue;
      const auto& e = element.edges[i];
      const Point moved = MovePoint(element, e.point);
      const EdgeReading here = reader.Read(moved, e.normal, gain, kWindow);
      if (here.kind != EdgeReading::Kind::kEdge) continue;
      const Point at = moved + (gain + here.displacement) * e.normal;
      const double px = (reader.placement().JacobianAt(at) * e.normal).norm();
      const double h = 0.6 / std::max(1.0, px);
      const double fall =
          reader.CoverageAt(at - h * e.normal, 1) - reader.CoverageAt(at + h * e.normal, 0);
      slope += e.length * fall / (2 * h * px);
      length += e.length;
    }
  }
  if (length <= 0 || slope <= 0) return 0;
  return length / slope / std::sqrt(2 * std::numbers::pi);
}

}  // namespace debossier::fit
