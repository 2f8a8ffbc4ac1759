#include "fit/edge.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "fit/sample_map.h"

namespace debossier::fit {

std::vector<ModelEdge> ModelEdges(const outline::Outline& outline, double step) {
  std::vector<ModelEdge> edges;
  for (const auto& s : outline::SampleEdge(outline, step)) {
    edges.push_back({s.point, s.normal, s.length, s.contour_idx});
  }
  return edges;
}

namespace {

constexpr int kMaxHalf = 40;

}  // namespace

EdgeReader::EdgeReader(const cv::Mat& alpha, const Placement& map_from_stamp, float level)
    : alpha_(alpha), placement_(map_from_stamp), level_(level) {}

double EdgeReader::FoilWithin(const Point& point, const Point& normal, double gain,
                              double depth) const {
  constexpr int kSteps = 8;
  const auto [edge, along] = placement_.RayAt(point + gain * normal, normal);
  float most = 0;
  for (int k = 0; k <= kSteps; ++k) {
    const Point p = edge - along * (depth * k / kSteps);
    if (InsideMap(alpha_, p.x(), p.y())) most = std::max(most, SampleMap(alpha_, p.x(), p.y()));
  }
  return most;
}

double EdgeReader::CoverageAt(const Point& stamp, double outside) const {
  const Point p = placement_.ToPhoto(stamp);
  return InsideMap(alpha_, p.x(), p.y()) ? SampleMap(alpha_, p.x(), p.y()) : outside;
}

EdgeReading EdgeReader::Read(const Point& point, const Point& normal, double gain,
                             double window) const {
  EdgeReading reading;
  const Placement::Ray ray = placement_.RayAt(point + gain * normal, normal);
  const Point& centre = ray.origin;
  const Point& along = ray.direction;
  const double px_per_cap = along.norm();
  if (!(px_per_cap > 1e-6)) return reading;
  const int half = std::clamp(1 + static_cast<int>(window * px_per_cap / 0.7), 3, kMaxHalf);
  const double step = window / half;  // cap heights
  const Point first = centre - along * window;
  const Point last = centre + along * window;
  // The model's own place must lie in the picture; beyond its border the picture goes on as it
  // ends, so that a letter close to the border keeps its edges.
  if (!InsideMap(alpha_, centre.x(), centre.y())) return reading;
  const bool whole =
      InsideMap(alpha_, first.x(), first.y()) && InsideMap(alpha_, last.x(), last.y());
  const auto sample = [&](int k) {
    Point p = first + along * (k * step);
    if (!whole) {
      p.x() = std::clamp(p.x(), 0.0, alpha_.cols - 1.001);
      p.y() = std::clamp(p.y(), 0.0, alpha_.rows - 1.001);
    }
    return SampleMap(alpha_, p.x(), p.y());
  };
  // From the middle outwards to either side: the nearest crossing ends the search.
  std::array<float, 2 * kMaxHalf + 1> profile;
  profile[half] = sample(half);
  double best = 1e9;
  const auto cross = [&](int k) {
    if (!(profile[k] >= level_ && profile[k + 1] < level_)) return;
    const double t = (profile[k] - level_) / (profile[k] - profile[k + 1]);
    const double displacement = (k + t - half) * step;
    if (std::abs(displacement) < std::abs(best)) best = displacement;
  };
  for (int away = 1; away <= half && best > 1e8; ++away) {
    profile[half - away] = sample(half - away);
    profile[half + away] = sample(half + away);
    cross(half - away);
    cross(half + away - 1);
  }
  if (best < 1e8) {
    reading.kind = EdgeReading::Kind::kEdge;
    reading.displacement = best;
    return reading;
  }
  float inner = 0;
  for (int k = 0; k < half; ++k) inner = std::max(inner, profile[k]);
  reading.kind = inner < level_ ? EdgeReading::Kind::kMissing : EdgeReading::Kind::kExtra;
  reading.displacement = reading.kind == EdgeReading::Kind::kMissing ? -window : window;
  return reading;
}

}  // namespace debossier::fit
