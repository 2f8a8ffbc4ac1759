#include "outline/cubic.h"

#include <array>
#include <cmath>

namespace debossier::outline {

namespace {

// Abramowitz and Stegun, table 25.4, n = 5.
constexpr std::array<double, 5> kNodes{-0.906179845938663993, -0.538469310105683091, 0.0,
                                       0.538469310105683091, 0.906179845938663993};
constexpr std::array<double, 5> kWeights{0.236926885056189088, 0.478628670499366468,
                                         0.568888888888888889, 0.478628670499366468,
                                         0.236926885056189088};

}  // namespace

Point Cubic::At(double t) const {
  const double s = 1 - t;
  return s * s * s * p0 + 3 * s * s * t * p1 + 3 * s * t * t * p2 + t * t * t * p3;
}

Point Cubic::DerivativeAt(double t) const {
  const double s = 1 - t;
  return 3 * s * s * (p1 - p0) + 6 * s * t * (p2 - p1) + 3 * t * t * (p3 - p2);
}

Point Cubic::DirectionAt(double t) const {
  const double size = (p1 - p0).norm() + (p2 - p1).norm() + (p3 - p2).norm();
  if (!(size > 0)) return Point::Zero();
  const Point first = DerivativeAt(t);
  if (first.norm() > 1e-9 * size) return first.normalized();
  // Taylor: the first derivative that does not vanish gives the limit of the direction.
  const double side = t < 1 ? 1 : -1;
  const Point second = side * (6 * (1 - t) * (p2 - 2 * p1 + p0) + 6 * t * (p3 - 2 * p2 + p1));
  if (second.norm() > 1e-9 * size) return second.normalized();
  const Point third = p3 - 3 * p2 + 3 * p1 - p0;
  return third.norm() > 0 ? third.normalized() : Point::Zero();
}

double Cubic::LengthBetween(double t0, double t1) const {
  const double half = 0.5 * (t1 - t0);
  const double middle = 0.5 * (t0 + t1);
  double sum = 0;
  for (std::size_t i = 0; i < kNodes.size(); ++i) {
    sum += kWeights[i] * DerivativeAt(middle + half * kNodes[i]).norm();
  }
  return half * sum;
}

Cubic CubicOf(const Point& start, const Segment& segment) {
  return {start, segment.control1, segment.control2, segment.end};
}

}  // namespace debossier::outline
