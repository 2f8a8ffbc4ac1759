#include <cmath>

#include "base/unicode.h"
#include "measure/measure_photo.h"

namespace debossier::measure {

std::vector<GapMeasurement> MeasureGaps(const outline::Lettering& reference,
                                        const fit::PlaceReport& placed, const LineFit& wordmark) {
  std::vector<GapMeasurement> gaps;
  const double size = 1 + wordmark.value[kLineSize];
  const double u_size = std::sqrt(wordmark.covariance(kLineSize, kLineSize));
  for (std::size_t i = 0; i + 1 < reference.elements.size(); ++i) {
    const auto& a = reference.elements[i];
    const auto& b = reference.elements[i + 1];
    if (a.line_idx != b.line_idx || a.kind == outline::ElementKind::kMark ||
        b.kind == outline::ElementKind::kMark) {
      continue;
    }
    const auto& left = placed.elements[i];
    const auto& right = placed.elements[i + 1];
    if (!left.found || !right.found) continue;
    const ExtremeEdges le = EdgesOf(left, a.outline);
    const ExtremeEdges re = EdgesOf(right, b.outline);
    GapMeasurement gap;
    gap.left = a.id;
    gap.right = b.id;
    const double value = (re.left - le.right) / size;
    const double variance =
        re.d_left.dot(right.covariance * re.d_left) + le.d_right.dot(left.covariance * le.d_right);
    gap.value = {value, Combine(std::sqrt(variance), value * u_size)};
    const double apart = (right.centre.x() + right.value[fit::kShiftX]) -
                         (left.centre.x() + left.value[fit::kShiftX]);
    const double expected = right.centre.x() - left.centre.x();
    const double kerning_variance =
        right.covariance(fit::kShiftX, fit::kShiftX) + left.covariance(fit::kShiftX, fit::kShiftX);
    gap.kerning = {apart / size - expected,
                   Combine(std::sqrt(kerning_variance), expected * u_size)};
    gaps.push_back(gap);
  }
  return gaps;
}

}  // namespace debossier::measure
