#include "trace/bezier_fit.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "base/result.h"

namespace debossier::trace {

namespace {

using outline::Point;
using outline::Polyline;

struct Cubic {
  std::array<Point, 4> p;
  Point At(double t) const {
    const double s = 1 - t;
    return s * s * s * p[0] + 3 * s * s * t * p[1] + 3 * s * t * t * p[2] + t * t * t * p[3];
  }
  Point First(double t) const {
    const double s = 1 - t;
    return 3 * (s * s * (p[1] - p[0]) + 2 * s * t * (p[2] - p[1]) + t * t * (p[3] - p[2]));
  }
  Point Second(double t) const {
    return 6 * ((1 - t) * (p[2] - 2 * p[1] + p[0]) + t * (p[3] - 2 * p[2] + p[1]));
  }
};

std::vector<double> ChordParameters(const Polyline& points) {
  std::vector<double> u(points.size(), 0.0);
  for (std::size_t i = 1; i < points.size(); ++i)
    u[i] = u[i - 1] + (points[i] - points[i - 1]).norm();
  const double total = std::max(u.back(), 1e-12);
  for (double& v : u) v /= total;
  return u;
}

Cubic SolveCubic(const Polyline& points, const std::vector<double>& u, const Point& t0,
                 const Point& t1) {
  double c00 = 0, c01 = 0, c11 = 0, x0 = 0, x1 = 0;
  const Point first = points.front();
  const Point last = points.back();
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double t = u[i];
    const double s = 1 - t;
    const double b0 = s * s * s, b1 = 3 * s * s * t, b2 = 3 * s * t * t, b3 = t * t * t;
    const Point a0 = b1 * t0;
    const Point a1 = b2 * t1;
    const Point rest = points[i] - first * (b0 + b1) - last * (b2 + b3);
    c00 += a0.dot(a0);
    c01 += a0.dot(a1);
    c11 += a1.dot(a1);
    x0 += a0.dot(rest);
    x1 += a1.dot(rest);
  }
  const double chord = (last - first).norm();
  const double determinant = c00 * c11 - c01 * c01;
  double alpha0 = chord / 3;
  double alpha1 = chord / 3;
  if (std::abs(determinant) > 1e-14 * c00 * c11) {
    alpha0 = (x0 * c11 - x1 * c01) / determinant;
    alpha1 = (c00 * x1 - c01 * x0) / determinant;
  }
  // Handles must point forward and stay within reach, or the curve loops.
  const double least = 0.02 * chord;
  const double most = 1.5 * std::max(chord, 1e-9) + 1e-9;
  if (!(alpha0 > least) || !(alpha1 > least) || alpha0 > most || alpha1 > most) {
    alpha0 = alpha1 = chord / 3;
  }
  return {{first, first + alpha0 * t0, last + alpha1 * t1, last}};
}

void Reparametrise(const Cubic& cubic, const Polyline& points, std::vector<double>& u) {
  for (std::size_t i = 1; i + 1 < points.size(); ++i) {
    const Point d = cubic.At(u[i]) - points[i];
    const Point first = cubic.First(u[i]);
    const double denominator = first.dot(first) + d.dot(cubic.Second(u[i]));
    if (std::abs(denominator) < 1e-14) continue;
    u[i] = std::clamp(u[i] - d.dot(first) / denominator, 0.0, 1.0);
  }
}

double LargestError(const Cubic& cubic, const Polyline& points, const std::vector<double>& u,
                    std::size_t* where) {
  double largest = 0;
  *where = points.size() / 2;
  for (std::size_t i = 1; i + 1 < points.size(); ++i) {
    const double e = (cubic.At(u[i]) - points[i]).norm();
    if (e > largest) {
      largest = e;
      *where = i;
    }
  }
  return largest;
}

/// Direction from an end into the piece, from a line through the first stretch of it.
Point EndTangent(const Polyline& points, bool at_start, double reach) {
  const auto at = [&](std::size_t i) {
    return at_start ? points[i] : points[points.size() - 1 - i];
  };
  Point sum = Point::Zero();
  for (std::size_t i = 1; i < points.size(); ++i) {
    const Point d = at(i) - at(0);
    const double length = d.norm();
    if (length > reach && i > 1) break;
    if (length > 1e-12) sum += d;
  }
  const double n = sum.norm();
  return n > 1e-12 ? Point(sum / n) : Point(1, 0);
}

class PieceFitter {
 public:
  explicit PieceFitter(const BezierFitOptions& options) : options_(options) {}

  void Fit(const Polyline& points, const Point& t0, const Point& t1, int depth,
           std::vector<outline::Segment>& out) const {
    if (points.size() < 2) return;
    if (IsStraight(points)) {
      out.push_back({true, Point::Zero(), Point::Zero(), points.back()});
      return;
    }
    if (points.size() == 2) {
      out.push_back({true, Point::Zero(), Point::Zero(), points.back()});
      return;
    }
    auto u = ChordParameters(points);
    Cubic cubic = SolveCubic(points, u, t0, t1);
    std::size_t worst = 0;
    double error = LargestError(cubic, points, u, &worst);
    for (int round = 0; round < 5 && error > options_.tolerance; ++round) {
      if (error > 12 * options_.tolerance) break;
      Reparametrise(cubic, points, u);
      cubic = SolveCubic(points, u, t0, t1);
      error = LargestError(cubic, points, u, &worst);
    }
    if (error <= options_.tolerance || depth > 24 || points.size() < 5) {
      out.push_back({false, cubic.p[1], cubic.p[2], cubic.p[3]});
      return;
    }
    worst = std::clamp<std::size_t>(worst, 2, points.size() - 3);
    const std::size_t reach = std::min<std::size_t>({4, worst, points.size() - 1 - worst});
    Point tangent = points[worst - reach] - points[worst + reach];
    if (tangent.norm() < 1e-12) tangent = points[worst - 1] - points[worst];
    tangent.normalize();
    Fit({points.begin(), points.begin() + static_cast<std::ptrdiff_t>(worst) + 1}, t0, tangent,
        depth + 1, out);
    Fit({points.begin() + static_cast<std::ptrdiff_t>(worst), points.end()}, -tangent, t1,
        depth + 1, out);
  }

 private:
  bool IsStraight(const Polyline& points) const {
    const Point d = points.back() - points.front();
    const double length = d.norm();
    if (length < 1e-12) return false;
    const Point normal(-d.y() / length, d.x() / length);
    return std::all_of(points.begin(), points.end(), [&](const Point& p) {
      return std::abs(normal.dot(p - points.front())) <= 0.6 * options_.tolerance;
    });
  }

  const BezierFitOptions& options_;
};

/// Indices of corners: local maxima of the turn over `reach` on either side.
std::vector<std::size_t> Corners(const Polyline& line, const BezierFitOptions& options) {
  const std::size_t n = line.size();
  std::vector<double> along(n + 1, 0.0);
  for (std::size_t i = 0; i < n; ++i)
    along[i + 1] = along[i] + (line[(i + 1) % n] - line[i]).norm();
  const double total = along[n];
  const double reach = std::min(options.corner_reach, total / 8);
  std::vector<double> turn(n, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    std::size_t before = i;
    double length = 0;
    while (length < reach) {
      const std::size_t to = (before + n - 1) % n;
      length += (line[before] - line[to]).norm();
      before = to;
      if (before == i) break;
    }
    std::size_t after = i;
    length = 0;
    while (length < reach) {
      const std::size_t to = (after + 1) % n;
      length += (line[after] - line[to]).norm();
      after = to;
      if (after == i) break;
    }
    const Point a = line[i] - line[before];
    const Point b = line[after] - line[i];
    turn[i] = std::abs(std::atan2(a.x() * b.y() - a.y() * b.x(), a.dot(b)));
  }
  const double least = options.corner_turn_deg * std::numbers::pi / 180;
  std::vector<std::size_t> corners;
  for (std::size_t i = 0; i < n; ++i) {
    if (turn[i] < least) continue;
    bool highest = true;
    for (std::size_t k = 1; k < n / 2 && highest; ++k) {
      const std::size_t ahead = (i + k) % n;
      const std::size_t behind = (i + n - k) % n;
      const double gone =
          std::min(std::abs(along[ahead] - along[i]), total - std::abs(along[ahead] - along[i]));
      if (gone > 0.8 * reach) break;
      highest = turn[ahead] <= turn[i] && turn[behind] < turn[i];
    }
    if (highest) corners.push_back(i);
  }
  return corners;
}

}  // namespace

outline::Contour FitContour(const Polyline& polyline, const BezierFitOptions& options) {
  DEBOSSIER_ASSERT(polyline.size() >= 3);
  auto corners = Corners(polyline, options);
  const bool smooth = corners.empty();
  if (smooth) corners.push_back(0);
  const std::size_t n = polyline.size();
  const PieceFitter fitter(options);
  outline::Contour contour;
  contour.start = polyline[corners.front()];
  for (std::size_t k = 0; k < corners.size(); ++k) {
    const std::size_t from = corners[k];
    const std::size_t to = corners[(k + 1) % corners.size()];
    const std::size_t count = to > from ? to - from : to + n - from;
    Polyline piece;
    for (std::size_t i = 0; i <= count; ++i) piece.push_back(polyline[(from + i) % n]);
    const double reach = std::min(options.corner_reach, 0.03);
    Point t0 = EndTangent(piece, true, reach);
    Point t1 = EndTangent(piece, false, reach);
    if (smooth) {
      // The seam of a smooth contour: one tangent through it.
      const Point seam = (t0 - t1).normalized();
      t0 = seam;
      t1 = -seam;
    }
    fitter.Fit(piece, t0, t1, 0, contour.segments);
  }
  return contour;
}

}  // namespace debossier::trace
