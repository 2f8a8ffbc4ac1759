#include "outline/blurred_edge.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
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

struct VertexId {
  std::uint32_t contour = 0;
  std::uint32_t vertex = 0;
};

/// Vertices in square cells of one reach, to find those near a point.
class VertexCells {
 public:
  VertexCells(const std::vector<Polyline>& contours, double reach) : reach_(reach) {
    Box box;
    for (const Polyline& line : contours) {
      for (const Point& p : line) box.Add(p);
    }
    if (box.empty()) return;
    origin_ = box.min;
    constexpr double kMostCells = 1000;  // to a side
    reach_ = std::max(reach, std::max(box.width(), box.height()) / kMostCells);
    columns_ = static_cast<int>(box.width() / reach_) + 1;
    rows_ = static_cast<int>(box.height() / reach_) + 1;
    cells_.resize(static_cast<std::size_t>(columns_) * static_cast<std::size_t>(rows_));
    for (std::size_t c = 0; c < contours.size(); ++c) {
      for (std::size_t i = 0; i < contours[c].size(); ++i) {
        const Point& p = contours[c][i];
        cells_[CellOf(Column(p.x()), Row(p.y()))].push_back(
            {static_cast<std::uint32_t>(c), static_cast<std::uint32_t>(i)});
      }
    }
  }

  /// Every vertex within reach of `p`, and some beyond.
  template <class Visit>
  void Near(const Point& p, Visit visit) const {
    if (cells_.empty()) return;
    const int column = Column(p.x());
    const int row = Row(p.y());
    for (int y = std::max(0, row - 1); y <= std::min(rows_ - 1, row + 1); ++y) {
      for (int x = std::max(0, column - 1); x <= std::min(columns_ - 1, column + 1); ++x) {
        for (const VertexId& id : cells_[CellOf(x, y)]) visit(id);
      }
    }
  }

 private:
  int Column(double x) const {
    return static_cast<int>(std::clamp((x - origin_.x()) / reach_, 0.0, columns_ - 1.0));
  }
  int Row(double y) const {
    return static_cast<int>(std::clamp((y - origin_.y()) / reach_, 0.0, rows_ - 1.0));
  }
  std::size_t CellOf(int column, int row) const {
    return static_cast<std::size_t>(row) * static_cast<std::size_t>(columns_) +
           static_cast<std::size_t>(column);
  }

  double reach_;
  Point origin_ = Point::Zero();
  int columns_ = 0;
  int rows_ = 0;
  std::vector<std::vector<VertexId>> cells_;
};

/// A vertex and the shift there, worked out when first asked for.
class VertexShifts {
 public:
  VertexShifts(const std::vector<Polyline>& contours, const VertexCells& cells, double sigma)
      : contours_(contours), cells_(cells), sigma_(sigma) {
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
    cells_.Near(p, [&](const VertexId& id) {
      const Polyline& line = contours_[id.contour];
      const Point a = line[id.vertex] - p;
      if (std::abs(a.x()) > reach || std::abs(a.y()) > reach) return;
      const std::size_t next = id.vertex + 1 < line.size() ? id.vertex + 1 : 0;
      if (id.contour == contour && (id.vertex == vertex || next == vertex)) return;
      const Point b = line[next] - p;
      const double r2 = 0.25 * (a + b).squaredNorm();
      if (r2 <= reach * reach) sum -= std::exp(scale * r2) * Angle(a, b);
    });
    const double missing = 0.5 - sum / (2 * kPi);
    return std::clamp(-std::sqrt(2 * kPi) * sigma_ * missing, -sigma_, sigma_);
  }

  const std::vector<Polyline>& contours_;
  const VertexCells& cells_;
  double sigma_;
  std::vector<std::vector<double>> known_;
};

}  // namespace

std::vector<double> BlurredShifts(const Outline& outline, const std::vector<EdgeSample>& samples,
                                  double sigma) {
  std::vector<double> shifts(samples.size(), 0.0);
  if (!(sigma > 0)) return shifts;
  const std::vector<Polyline> contours = FineContours(outline, sigma);
  const VertexCells cells(contours, kReach * sigma);
  VertexShifts at_vertices(contours, cells, sigma);
  for (std::size_t k = 0; k < samples.size(); ++k) {
    const Point& p = samples[k].point;
    double nearest = 1e300;
    std::size_t contour = 0;
    std::size_t vertex = 0;
    cells.Near(p, [&](const VertexId& id) {
      const double distance = (contours[id.contour][id.vertex] - p).squaredNorm();
      if (distance >= nearest) return;
      nearest = distance;
      contour = id.contour;
      vertex = id.vertex;
    });
    if (nearest > 1e299) continue;
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
