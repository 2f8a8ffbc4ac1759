#include "trace/sharpen.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "fit/sample_map.h"

namespace debossier::trace {

namespace {

using outline::Point;
using outline::Polyline;

constexpr double kPi = std::numbers::pi;

double Cross(const Point& a, const Point& b) { return a.x() * b.y() - a.y() * b.x(); }

/// The closed polyline with vertices at even steps of about `step`.
Polyline Resampled(const Polyline& line, double step) {
  const std::size_t n = line.size();
  double total = 0;
  for (std::size_t i = 0; i < n; ++i) total += (line[(i + 1) % n] - line[i]).norm();
  const auto count = static_cast<std::size_t>(std::clamp(std::round(total / step), 8.0, 20000.0));
  Polyline out;
  out.reserve(count);
  std::size_t i = 0;
  double before = 0;
  double length = (line[1 % n] - line[0]).norm();
  for (std::size_t k = 0; k < count; ++k) {
    const double along = total * static_cast<double>(k) / static_cast<double>(count);
    while (before + length < along && i + 1 < n) {
      before += length;
      ++i;
      length = (line[(i + 1) % n] - line[i]).norm();
    }
    const double t = length > 0 ? std::clamp((along - before) / length, 0.0, 1.0) : 0;
    out.push_back(line[i] + t * (line[(i + 1) % n] - line[i]));
  }
  return out;
}

/// Segments in square cells, to find those near a point.
class NearSegments {
 public:
  NearSegments(const std::vector<Polyline>& contours, double reach) : reach_(reach) {
    outline::Box box;
    for (const auto& line : contours) {
      for (const Point& p : line) box.Add(p);
    }
    if (box.empty()) return;
    origin_ = box.min;
    columns_ = static_cast<int>(box.width() / reach) + 1;
    rows_ = static_cast<int>(box.height() / reach) + 1;
    cells_.resize(static_cast<std::size_t>(columns_ * rows_));
    for (const auto& line : contours) {
      for (std::size_t i = 0; i < line.size(); ++i) {
        const Segment s{line[i], line[(i + 1) % line.size()]};
        const Point middle = 0.5 * (s.a + s.b);
        cells_[static_cast<std::size_t>(Row(middle) * columns_ + Column(middle))].push_back(s);
      }
    }
  }

  struct Segment {
    Point a;
    Point b;
  };

  template <class Visit>
  void Each(const Point& p, Visit visit) const {
    const int row = Row(p);
    const int column = Column(p);
    for (int y = std::max(0, row - 1); y <= std::min(rows_ - 1, row + 1); ++y) {
      for (int x = std::max(0, column - 1); x <= std::min(columns_ - 1, column + 1); ++x) {
        for (const Segment& s : cells_[static_cast<std::size_t>(y * columns_ + x)]) visit(s);
      }
    }
  }

 private:
  int Column(const Point& p) const {
    return std::clamp(static_cast<int>((p.x() - origin_.x()) / reach_), 0, columns_ - 1);
  }
  int Row(const Point& p) const {
    return std::clamp(static_cast<int>((p.y() - origin_.y()) / reach_), 0, rows_ - 1);
  }

  double reach_;
  Point origin_ = Point::Zero();
  int columns_ = 0;
  int rows_ = 0;
  std::vector<std::vector<Segment>> cells_;
};

/// The blurred picture of the shape at its vertex `p` between `before` and `after`, in polar
/// coordinates about p: the integral of the Gaussian over the shape is the angle of foil at p less
/// the boundary's exp(-r^2 / 2 sigma^2) d(theta), both over 2 pi. Foil is right of the travel.
double BlurredAt(const Point& before, const Point& p, const Point& after,
                 const NearSegments& segments, double sigma) {
  const Point in = before - p;
  const Point out = after - p;
  // From the way out, clockwise as seen with y down, to the way back: the foil's angle.
  double angle = std::atan2(Cross(out, in), out.dot(in));
  if (angle < 0) angle += 2 * kPi;
  double sum = angle;
  const double scale = -0.5 / (sigma * sigma);
  const double reach2 = 16 * sigma * sigma;
  segments.Each(p, [&](const NearSegments::Segment& s) {
    const Point a = s.a - p;
    const Point b = s.b - p;
    const double r2 = (0.5 * (a + b)).squaredNorm();
    if (r2 > reach2 || a.squaredNorm() < 1e-18 || b.squaredNorm() < 1e-18) return;
    sum -= std::exp(scale * r2) * std::atan2(Cross(a, b), a.dot(b));
  });
  return sum / (2 * kPi);
}

/// Outward unit normal at a vertex.
Point NormalAt(const Polyline& line, std::size_t i, std::size_t reach) {
  const std::size_t n = line.size();
  const Point along = line[(i + reach) % n] - line[(i + n - reach) % n];
  const double length = along.norm();
  // Foil on the right with y down: outward is on the left.
  return length > 0 ? Point(along.y() / length, -along.x() / length) : Point(0, 0);
}

}  // namespace

double EstimateBlur(const cv::Mat& coverage, const std::vector<Polyline>& contours) {
  constexpr double kStep = 1;      // pixels
  constexpr std::size_t kArm = 5;  // steps to either side that must be straight
  constexpr double kBend = 0.15;   // pixels off the chord
  std::vector<double> slopes;
  for (const auto& contour : contours) {
    const Polyline line = Resampled(contour, kStep);
    const std::size_t n = line.size();
    if (n < 4 * kArm) continue;
    for (std::size_t i = 0; i < n; ++i) {
      const Point a = line[(i + n - kArm) % n];
      const Point b = line[(i + kArm) % n];
      const double chord = (b - a).norm();
      if (chord < 1) continue;
      if (std::abs(Cross(b - a, line[i] - a)) / chord > kBend) continue;
      const Point normal = NormalAt(line, i, kArm);
      constexpr double kHalf = 0.5;
      const Point inner = line[i] - kHalf * normal;
      const Point outer = line[i] + kHalf * normal;
      if (!fit::InsideMap(coverage, inner.x(), inner.y()) ||
          !fit::InsideMap(coverage, outer.x(), outer.y())) {
        continue;
      }
      const double slope = fit::SampleMap(coverage, inner.x(), inner.y()) -
                           fit::SampleMap(coverage, outer.x(), outer.y());
      if (slope > 0) slopes.push_back(slope);
    }
  }
  if (slopes.size() < 10) return 0;
  const auto middle = slopes.begin() + static_cast<std::ptrdiff_t>(slopes.size() / 2);
  std::nth_element(slopes.begin(), middle, slopes.end());
  // Slope of a step under a Gaussian; the difference over one pixel and the bilinear samples blur
  // it a little more.
  constexpr double kOfReading = 1.0 / 12 + 1.0 / 6;
  const double sigma = 1 / (std::sqrt(2 * kPi) * *middle);
  return std::sqrt(std::max(0.0, sigma * sigma - kOfReading));
}

std::vector<Polyline> Sharpen(const cv::Mat& coverage, std::vector<Polyline> contours,
                              const SharpenOptions& options) {
  const double sigma = options.blur_px > 0 ? options.blur_px : EstimateBlur(coverage, contours);
  if (!(sigma > 0.3) || sigma > options.max_blur_px) return contours;
  const double step = std::max(0.35, 0.4 * sigma);
  const double straight_slope = 1 / (std::sqrt(2 * kPi) * sigma);
  for (int round = 0; round < options.rounds; ++round) {
    for (auto& line : contours) line = Resampled(line, step);
    const NearSegments segments(contours, 4 * sigma);
    std::vector<Polyline> moved = contours;
    for (std::size_t c = 0; c < contours.size(); ++c) {
      const Polyline& line = contours[c];
      const std::size_t n = line.size();
      for (std::size_t i = 0; i < n; ++i) {
        const Point& p = line[i];
        if (!fit::InsideMap(coverage, p.x(), p.y())) continue;
        const double model =
            BlurredAt(line[(i + n - 1) % n], p, line[(i + 1) % n], segments, sigma);
        const double short_of = fit::SampleMap(coverage, p.x(), p.y()) - model;
        const double shift = std::clamp(short_of / straight_slope, -0.5 * sigma, 0.5 * sigma);
        moved[c][i] = p + shift * NormalAt(line, i, 2);
      }
    }
    contours = std::move(moved);
  }
  return contours;
}

}  // namespace debossier::trace
