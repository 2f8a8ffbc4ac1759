#include "outline/blurred_edge.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace debossier::outline {

namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kReach = 3.5;  // standard deviations; beyond it nothing counts

/// The boundary with vertices close together against the blur.
std::vector<Polyline> FineContours(const Outline& outline, double sigma) {
  const double longest = 0.5 * sigma;
  std::vector<Polyline> fine;
  for (const Polyline& line : Flatten(outline, 0.005 * sigma)) {
    Polyline contour;
    for (std::size_t i = 0; i < line.size(); ++i) {
      const Point& a = line[i];
      const Point step = line[i + 1 < line.size() ? i + 1 : 0] - a;
      const int count = std::clamp(static_cast<int>(std::ceil(step.norm() / longest)), 1, 2000);
      for (int k = 0; k < count; ++k) contour.push_back(a + step * (k / double(count)));
    }
    if (contour.size() >= 3) fine.push_back(std::move(contour));
  }
  return fine;
}

/// Angle under which a piece is seen from a point, without the arctangent where it is small.
double Angle(const Point& a, const Point& b) {
  const double cross = a.x() * b.y() - a.y() * b.x();
  const double dot = a.dot(b);
  constexpr double kSmall = 0.15;
  if (dot > 0 && std::abs(cross) < kSmall * dot) {
    const double t = cross / dot;
    return t * (1 - t * t / 3);
  }
  return std::atan2(cross, dot);
}

/// A vertex and the shift there, worked out when first asked for.
class VertexShifts {
 public:
  VertexShifts(const std::vector<Polyline>& contours, double sigma)
      : contours_(contours), sigma_(sigma) {
    for (const Polyline& line : contours) known_.emplace_back(line.size(), std::nan(""));
  }

  double At(std::size_t contour, std::size_t vertex) {
    double& shift = known_[contour][vertex];
    if (std::isnan(shift)) shift = Shift(contour, vertex);
    return shift;
  }

 private:
  double Shift(std::size_t contour, std::size_t vertex) const {
    const Polyline& own = contours_[contour];
    const std::size_t n = own.size();
    const Point& p = own[vertex];
    const Point in = own[(vertex + n - 1) % n] - p;
    const Point out = own[(vertex + 1) % n] - p;
    // The shape's angle at the vertex: it lies left of the travel.
    double angle = std::atan2(out.x() * in.y() - out.y() * in.x(), out.dot(in));
    if (angle < 0) angle += 2 * kPi;
    const double reach = kReach * sigma_;
    const double scale = -0.5 / (sigma_ * sigma_);
    double sum = angle;
    for (std::size_t c = 0; c < contours_.size(); ++c) {
      const Polyline& line = contours_[c];
      for (std::size_t i = 0; i < line.size(); ++i) {
        const Point a = line[i] - p;
        if (std::abs(a.x()) > reach || std::abs(a.y()) > reach) continue;
        const std::size_t next = i + 1 < line.size() ? i + 1 : 0;
        if (c == contour && (i == vertex || next == vertex)) continue;
        const Point b = line[next] - p;
        const double r2 = 0.25 * (a + b).squaredNorm();
        if (r2 <= reach * reach) sum -= std::exp(scale * r2) * Angle(a, b);
      }
    }
    const double missing = 0.5 - sum / (2 * kPi);
    return std::clamp(-std::sqrt(2 * kPi) * sigma_ * missing, -sigma_, sigma_);
  }

  const std::vector<Polyline>& contours_;
  double sigma_;
  std::vector<std::vector<double>> known_;
};

}  // namespace

std::vector<double> BlurredShifts(const Outline& outline, const std::vector<EdgeSample>& samples,
                                  double sigma) {
  std::vector<double> shifts(samples.size(), 0.0);
  if (!(sigma > 0)) return shifts;
  const std::vector<Polyline> contours = FineContours(outline, sigma);
  VertexShifts at_vertices(contours, sigma);
  for (std::size_t k = 0; k < samples.size(); ++k) {
    const Point& p = samples[k].point;
    double nearest = 1e300;
    std::size_t contour = 0;
    std::size_t vertex = 0;
    for (std::size_t c = 0; c < contours.size(); ++c) {
      for (std::size_t i = 0; i < contours[c].size(); ++i) {
        const double distance = (contours[c][i] - p).squaredNorm();
        if (distance >= nearest) continue;
        nearest = distance;
        contour = c;
        vertex = i;
      }
    }
    if (contours.empty()) continue;
    // Between the nearest vertex and that of its neighbours which lies towards the sample.
    const Polyline& line = contours[contour];
    const Point off = p - line[vertex];
    const std::size_t ahead = (vertex + 1) % line.size();
    const std::size_t behind = (vertex + line.size() - 1) % line.size();
    const std::size_t other =
        off.dot(line[ahead] - line[vertex]) > off.dot(line[behind] - line[vertex]) ? ahead : behind;
    const Point step = line[other] - line[vertex];
    const double t = std::clamp(off.dot(step) / std::max(step.squaredNorm(), 1e-300), 0.0, 1.0);
    shifts[k] = (1 - t) * at_vertices.At(contour, vertex) + t * at_vertices.At(contour, other);
  }
  return shifts;
}

}  // namespace debossier::outline
