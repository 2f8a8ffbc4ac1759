#include "fit/find_element.h"

#include <cmath>

namespace debossier::fit {

double EdgeContrast(const EdgeReader& reader, const std::vector<ModelEdge>& edges,
                    const outline::Affine& move) {
  constexpr double kStandOff = 0.03;
  double sum = 0;
  double length = 0;
  for (const auto& e : edges) {
    const Point p = move * e.point;
    sum += e.length * (reader.CoverageAt(p - kStandOff * e.normal, 0) -
                       reader.CoverageAt(p + kStandOff * e.normal, 1));
    length += e.length;
  }
  return length > 0 ? sum / length : -1;
}

FoundElement FindElement(const EdgeReader& reader, const outline::Outline& element,
                         const FindOptions& options) {
  const auto edges = ModelEdges(element, 0.06);
  const Point centre = outline::Bounds(element).centre();
  FoundElement best;
  double best_value = -10;
  for (int k = 0; k < options.scales; ++k) {
    const double share = options.scales > 1 ? static_cast<double>(k) / (options.scales - 1) : 0.5;
    const double scale =
        options.least_scale * std::pow(options.most_scale / options.least_scale, share);
    outline::Affine move;
    move.linear = Eigen::Matrix2d::Identity() * scale;
    for (double dy = -options.reach_y; dy <= options.reach_y + 1e-9; dy += options.step) {
      for (double dx = -options.reach_x; dx <= options.reach_x + 1e-9; dx += options.step) {
        move.offset = centre + Point(dx, dy) - scale * centre;
        const double score = EdgeContrast(reader, edges, move);
        const double value = score - 0.12 * (dx * dx + dy * dy) - 0.1 * std::abs(std::log(scale));
        if (value > best_value) {
          best_value = value;
          best.score = score;
          best.start << dx, dy, std::log(scale), std::log(scale), 0, 0;
        }
      }
    }
  }
  return best;
}

}  // namespace debossier::fit
