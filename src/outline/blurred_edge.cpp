#include "outline/blurred_edge.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>

namespace debossier::outline {

namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kReach = 3.2;  // standard deviations; beyond it nothing counts

/// The boundary in pieces no longer than the blur is wide.
std::vector<Polyline> FineContours(const Outline& outline, double sigma) {
  std::vector<Polyline> fine;
  for (const Polyline& line : Flatten(outline, 0.005 * sigma)) {
    Polyline contour;
    for (std::size_t i = 0; i < line.size(); ++i) {
      const Point& a = line[i];
      const Point step = line[i + 1 < line.size() ? i + 1 : 0] - a;
      const int count = std::clamp(static_cast<int>(std::ceil(step.norm() / sigma)), 1, 2000);
      for (int k = 0; k < count; ++k) contour.push_back(a + step * (k / double(count)));
    }
    if (contour.size() >= 3) fine.push_back(std::move(contour));
  }
  return fine;
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
    std::size_t count = 0;
    for (const Polyline& line : contours) {
      for (const Point& p : line) box.Add(p);
      count += line.size();
    }
    if (box.empty()) return;
    origin_ = box.min;
    constexpr double kMostCells = 1000;  // to a side
    reach_ = std::max(reach, std::max(box.width(), box.height()) / kMostCells);
    columns_ = static_cast<int>(box.width() / reach_) + 1;
    rows_ = static_cast<int>(box.height() / reach_) + 1;
    begin_.assign(static_cast<std::size_t>(columns_) * static_cast<std::size_t>(rows_) + 1, 0);
    std::vector<std::uint32_t> cell;
    cell.reserve(count);
    for (const Polyline& line : contours) {
      for (const Point& p : line) {
        cell.push_back(static_cast<std::uint32_t>(CellOf(Column(p.x()), Row(p.y()))));
        ++begin_[cell.back() + 1];
      }
    }
    for (std::size_t k = 1; k < begin_.size(); ++k) begin_[k] += begin_[k - 1];
    std::vector<std::uint32_t> next(begin_.begin(), begin_.end() - 1);
    vertices_.resize(count);
    std::size_t k = 0;
    for (std::size_t c = 0; c < contours.size(); ++c) {
      for (std::size_t i = 0; i < contours[c].size(); ++i) {
        vertices_[next[cell[k++]]++] = {static_cast<std::uint32_t>(c),
                                        static_cast<std::uint32_t>(i)};
      }
    }
  }

  /// Every vertex within reach of `p`, and some beyond.
  template <class Visit>
  void Near(const Point& p, Visit visit) const {
    if (vertices_.empty()) return;
    const int column = Column(p.x());
    const int row = Row(p.y());
    const int last = std::min(columns_ - 1, column + 1);
    for (int y = std::max(0, row - 1); y <= std::min(rows_ - 1, row + 1); ++y) {
      // The cells of a row lie one after the other.
      const std::uint32_t end = begin_[CellOf(last, y) + 1];
      for (std::uint32_t k = begin_[CellOf(std::max(0, column - 1), y)]; k < end; ++k) {
        visit(vertices_[k]);
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
  std::vector<std::uint32_t> begin_;  ///< Of each cell in `vertices_`, and the end.
  std::vector<VertexId> vertices_;
};

/// A place on a piece of the boundary.
struct Foot {
  VertexId piece;  ///< It begins at this vertex.
  Point at = Point::Zero();
  double distance2 = 1e300;
};

std::size_t After(const Polyline& line, std::size_t vertex) {
  return vertex + 1 < line.size() ? vertex + 1 : 0;
}

Foot FootOn(const std::vector<Polyline>& contours, const VertexId& id, const Point& p) {
  const Polyline& line = contours[id.contour];
  const Point off = p - line[id.vertex];
  const Point step = line[After(line, id.vertex)] - line[id.vertex];
  // Not at the very ends, where the next piece would be seen under no angle or any.
  const double share = off.dot(step) / std::max(step.squaredNorm(), 1e-300);
  const Point at = line[id.vertex] + std::clamp(share, 0.001, 0.999) * step;
  return {id, at, (p - at).squaredNorm()};
}

/// The nearest place on the boundary; samples come in the boundary's order, so it is mostly a few
/// pieces after `last`.
Foot NearestFoot(const std::vector<Polyline>& contours, const VertexCells& cells, double sigma,
                 const Point& p, const Foot& last) {
  constexpr int kAhead = 6;
  const double close2 = 4e-4 * sigma * sigma;
  if (last.distance2 < 1e299) {
    VertexId id = last.piece;
    for (int k = 0; k < kAhead; ++k) {
      const Foot foot = FootOn(contours, id, p);
      if (foot.distance2 < close2) return foot;
      id.vertex = static_cast<std::uint32_t>(After(contours[id.contour], id.vertex));
    }
  }
  Foot foot;
  const double far2 = 2 * sigma * sigma;  // no piece is longer than sigma
  cells.Near(p, [&](const VertexId& id) {
    if ((p - contours[id.contour][id.vertex]).squaredNorm() > far2) return;
    const Foot other = FootOn(contours, id, p);
    if (other.distance2 < foot.distance2) foot = other;
  });
  return foot;
}

/// The shift at a place on the boundary: what the Gaussian's integral over the shape lacks to one
/// half, by the integral's slope across the edge.
double ShiftAt(const std::vector<Polyline>& contours, const VertexCells& cells, double sigma,
               const Foot& foot) {
  const double reach = kReach * sigma;
  const double scale = -0.5 / (sigma * sigma);
  double sum = kPi;
  cells.Near(foot.at, [&](const VertexId& id) {
    const Polyline& line = contours[id.contour];
    const Point a = line[id.vertex] - foot.at;
    if (std::abs(a.x()) > reach || std::abs(a.y()) > reach) return;
    const Point b = line[After(line, id.vertex)] - foot.at;
    const double cross = a.x() * b.y() - a.y() * b.x();
    const double dot = a.dot(b);
    // A piece in line with the place is seen under no angle: most are, on straight strokes.
    if (std::abs(cross) < 1e-5 * dot) return;
    if (id.contour == foot.piece.contour && id.vertex == foot.piece.vertex) return;
    // The angle, and the mean of the squared distance over it: of a straight piece, the cross
    // product by the angle.
    constexpr double kSmall = 0.15;
    double angle = 0;
    double r2 = 0;
    if (std::abs(cross) < kSmall * dot) {
      const double t = cross / dot;
      angle = t * (1 - t * t / 3);
      r2 = dot * (1 + t * t / 3);
    } else {
      angle = std::atan2(cross, dot);
      r2 = cross / angle;
    }
    if (r2 <= reach * reach) sum -= std::exp(scale * r2) * angle;
  });
  const double missing = 0.5 - sum / (2 * kPi);
  return std::clamp(-std::sqrt(2 * kPi) * sigma * missing, -sigma, sigma);
}

}  // namespace

std::vector<double> BlurredShifts(const Outline& outline, const std::vector<EdgeSample>& samples,
                                  double sigma) {
  std::vector<double> shifts(samples.size(), 0.0);
  if (!(sigma > 0)) return shifts;
  const std::vector<Polyline> contours = FineContours(outline, sigma);
  const VertexCells cells(contours, kReach * sigma);
  Foot foot;
  for (std::size_t k = 0; k < samples.size(); ++k) {
    foot = NearestFoot(contours, cells, sigma, samples[k].point, foot);
    if (foot.distance2 < 1e299) shifts[k] = ShiftAt(contours, cells, sigma, foot);
  }
  return shifts;
}

}  // namespace debossier::outline
