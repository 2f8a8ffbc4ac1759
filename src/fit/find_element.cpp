#include "fit/find_element.h"

#include <algorithm>
#include <cmath>

#include "fit/sample_map.h"

namespace debossier::fit {

namespace {

inline float ValueAt(const cv::Mat& map, const Point& p, float outside) {
  return InsideMap(map, p.x(), p.y()) ? SampleMap(map, p.x(), p.y()) : outside;
}

/// The outline's inner and outer neighbours in map pixels, for one scale, unmoved.
struct Neighbours {
  std::vector<Point> inner;
  std::vector<Point> outer;
  std::vector<float> weight;
};

Neighbours NeighboursOf(const EdgeReader& reader, const std::vector<ModelEdge>& edges,
                        const Point& centre, double scale) {
  constexpr double kStandOff = 0.03;
  Neighbours n;
  const Placement& placement = reader.placement();
  double total = 0;
  for (const auto& e : edges) total += e.length;
  for (const auto& e : edges) {
    const Point p = centre + scale * (e.point - centre);
    n.inner.push_back(placement.ToPhoto(p - kStandOff * e.normal));
    n.outer.push_back(placement.ToPhoto(p + kStandOff * e.normal));
    n.weight.push_back(static_cast<float>(e.length / total));
  }
  return n;
}

double ContrastAt(const cv::Mat& alpha, const Neighbours& n, const Point& shift_px) {
  float sum = 0;
  for (std::size_t i = 0; i < n.weight.size(); ++i) {
    const Point a = n.inner[i] + shift_px;
    const Point b = n.outer[i] + shift_px;
    sum += n.weight[i] * (ValueAt(alpha, a, 0) - ValueAt(alpha, b, 1));
  }
  return sum;
}

}  // namespace

FoundElement FindElement(const EdgeReader& reader, const outline::Outline& element,
                         const FindOptions& options) {
  const auto edges = ModelEdges(element, 0.08);
  const Point centre = outline::Bounds(element).centre();
  // Within reach the placement is as good as affine.
  const Eigen::Matrix2d px_per_cap = reader.placement().JacobianAt(centre);
  FoundElement best;
  double best_value = -10;
  for (int k = 0; k < options.scales; ++k) {
    const double share = options.scales > 1 ? static_cast<double>(k) / (options.scales - 1) : 0.5;
    const double scale =
        options.least_scale * std::pow(options.most_scale / options.least_scale, share);
    const Neighbours neighbours = NeighboursOf(reader, edges, centre, scale);
    const auto try_at = [&](double dx, double dy) {
      const Point shift = options.about + Point(dx, dy);
      const double score = ContrastAt(reader.alpha(), neighbours, px_per_cap * shift);
      const double value =
          score - options.pull * (dx * dx + dy * dy) - 0.1 * std::abs(std::log(scale));
      if (value <= best_value) return;
      best_value = value;
      best.score = score;
      best.start << shift.x(), shift.y(), std::log(scale), std::log(scale), 0, 0;
    };
    for (double dy = -options.reach_y; dy <= options.reach_y + 1e-9; dy += options.step) {
      for (double dx = -options.left; dx <= options.right + 1e-9; dx += options.step) {
        try_at(dx, dy);
      }
    }
  }
  return best;
}

}  // namespace debossier::fit
