#include "fit/edge_blur.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "base/robust.h"

namespace debossier::fit {

namespace {

/// Sums over edges: their lengths, and those times the slopes (1 / px).
struct Slopes {
  double length = 0;
  double slope = 0;
  double BlurPx() const {
    return length > 0 && slope > 0 ? length / slope / std::sqrt(2 * std::numbers::pi) : 0;
  }
};

Slopes SlopesOf(const EdgeReader& reader, const ElementFit& element) {
  constexpr double kWindow = 0.09;  // cap heights
  constexpr std::size_t kEvery = 3;
  Slopes sums;
  if (!element.found) return sums;
  const double gain = reader.placement().gain + element.value[kOwnGain];
  for (std::size_t i = 0; i < element.edges.size(); i += kEvery) {
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
    sums.slope += e.length * fall / (2 * h * px);
    sums.length += e.length;
  }
  return sums;
}

}  // namespace

double EdgeBlurPx(const EdgeReader& reader, const std::vector<ElementFit>& elements) {
  return EdgeBlurAndStray(reader, elements).px;
}

EdgeBlur EdgeBlurAndStray(const EdgeReader& reader, const std::vector<ElementFit>& elements) {
  Slopes all;
  std::vector<double> own;
  for (const ElementFit& element : elements) {
    const Slopes sums = SlopesOf(reader, element);
    all.length += sums.length;
    all.slope += sums.slope;
    if (sums.BlurPx() > 0) own.push_back(sums.BlurPx());
  }
  EdgeBlur blur{all.BlurPx(), 0};
  for (double& px : own) px = std::log(px / blur.px);
  blur.stray = SigmaOf(std::move(own));
  return blur;
}

}  // namespace debossier::fit
