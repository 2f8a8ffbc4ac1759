#include "outline/outline.h"

#include <Eigen/LU>
#include <array>
#include <cmath>

#include "outline/cubic.h"

namespace debossier::outline {

namespace {

double Cross(const Point& a, const Point& b) { return a.x() * b.y() - a.y() * b.x(); }

/// Roots of a t^2 + b t + c = 0 without cancellation; at most two, not sorted.
struct Roots {
  std::array<double, 2> t{};
  int count = 0;
};

Roots SolveQuadratic(double a, double b, double c) {
  Roots roots;
  const double discriminant = b * b - 4 * a * c;
  if (!(discriminant >= 0)) return roots;
  const double q = -0.5 * (b + std::copysign(std::sqrt(discriminant), b));
  if (a != 0) roots.t[roots.count++] = q / a;
  if (q != 0) roots.t[roots.count++] = c / q;
  return roots;
}

void AddCubic(const Cubic& cubic, Box& box) {
  box.Add(cubic.p3);
  Box hull;
  hull.Add(cubic.p0);
  hull.Add(cubic.p3);
  const Box ends = hull;
  hull.Add(cubic.p1);
  hull.Add(cubic.p2);
  if (hull.min == ends.min && hull.max == ends.max) return;
  for (int axis = 0; axis < 2; ++axis) {
    const double d0 = cubic.p1[axis] - cubic.p0[axis];
    const double d1 = cubic.p2[axis] - cubic.p1[axis];
    const double d2 = cubic.p3[axis] - cubic.p2[axis];
    const Roots roots = SolveQuadratic(d0 - 2 * d1 + d2, 2 * (d1 - d0), d0);
    for (int i = 0; i < roots.count; ++i) {
      if (roots.t[i] > 0 && roots.t[i] < 1) box.Add(cubic.At(roots.t[i]));
    }
  }
}

/// Twice the area swept from the origin along the curve: the integral of x dy - y dx, a quadratic
/// form in the control points.
double TwiceSweptArea(const Cubic& c) {
  return 0.6 * Cross(c.p0, c.p1) + 0.3 * Cross(c.p0, c.p2) + 0.1 * Cross(c.p0, c.p3) +
         0.3 * Cross(c.p1, c.p2) + 0.3 * Cross(c.p1, c.p3) + 0.6 * Cross(c.p2, c.p3);
}

/// Halves the span until two halves agree with the whole; 1e-9 of the curve's size is left over.
double AdaptiveLength(const Cubic& cubic, double t0, double t1, double whole, double allowed,
                      int depth) {
  const double middle = 0.5 * (t0 + t1);
  const double left = cubic.LengthBetween(t0, middle);
  const double right = cubic.LengthBetween(middle, t1);
  if (depth == 0 || std::abs(left + right - whole) <= allowed) return left + right;
  return AdaptiveLength(cubic, t0, middle, left, 0.5 * allowed, depth - 1) +
         AdaptiveLength(cubic, middle, t1, right, 0.5 * allowed, depth - 1);
}

double CubicLength(const Cubic& c) {
  const double size = (c.p1 - c.p0).norm() + (c.p2 - c.p1).norm() + (c.p3 - c.p2).norm();
  if (!(size > 0)) return 0;
  return AdaptiveLength(c, 0, 1, c.LengthBetween(0, 1), 1e-9 * size, 20);
}

}  // namespace

Box Bounds(const Contour& contour) {
  Box box;
  box.Add(contour.start);
  Point from = contour.start;
  for (const Segment& segment : contour.segments) {
    if (segment.is_line) {
      box.Add(segment.end);
    } else {
      AddCubic(CubicOf(from, segment), box);
    }
    from = segment.end;
  }
  return box;
}

Box Bounds(const Outline& outline) {
  Box box;
  for (const Contour& contour : outline.contours) box.Add(Bounds(contour));
  return box;
}

double SignedArea(const Contour& contour) {
  // Relative to the start, so that a contour far from the origin loses no digits.
  const Point origin = contour.start;
  double twice = 0;
  Point from = Point::Zero();
  for (const Segment& segment : contour.segments) {
    const Point end = segment.end - origin;
    if (segment.is_line) {
      twice += Cross(from, end);
    } else {
      twice += TwiceSweptArea({from, segment.control1 - origin, segment.control2 - origin, end});
    }
    from = end;
  }
  return 0.5 * twice;
}

double SignedArea(const Outline& outline) {
  double area = 0;
  for (const Contour& contour : outline.contours) area += SignedArea(contour);
  return area;
}

double Perimeter(const Outline& outline) {
  double length = 0;
  for (const Contour& contour : outline.contours) {
    Point from = contour.start;
    for (const Segment& segment : contour.segments) {
      length += segment.is_line ? (segment.end - from).norm() : CubicLength(CubicOf(from, segment));
      from = segment.end;
    }
  }
  return length;
}

Outline Transformed(const Outline& outline, const Affine& map) {
  const bool mirrors = map.linear.determinant() < 0;
  Outline out;
  out.contours.reserve(outline.contours.size());
  for (const Contour& contour : outline.contours) {
    Contour moved;
    moved.start = map * contour.start;
    moved.segments.reserve(contour.segments.size());
    for (const Segment& segment : contour.segments) {
      moved.segments.push_back(
          {segment.is_line, map * segment.control1, map * segment.control2, map * segment.end});
    }
    out.contours.push_back(mirrors ? Reversed(moved) : std::move(moved));
  }
  return out;
}

void Append(Outline& to, const Outline& from) {
  // By count and index, so that an outline can be appended to itself.
  const std::size_t count = from.contours.size();
  to.contours.reserve(to.contours.size() + count);
  for (std::size_t i = 0; i < count; ++i) to.contours.push_back(from.contours[i]);
}

Contour Reversed(const Contour& contour) {
  Contour out;
  out.start = contour.start;
  out.segments.reserve(contour.segments.size());
  for (std::size_t i = contour.segments.size(); i-- > 0;) {
    const Segment& segment = contour.segments[i];
    const Point& before = i > 0 ? contour.segments[i - 1].end : contour.start;
    out.segments.push_back({segment.is_line, segment.control2, segment.control1, before});
  }
  return out;
}

}  // namespace debossier::outline
