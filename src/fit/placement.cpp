#include "fit/placement.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>

namespace debossier::fit {
namespace {

constexpr double kMaxAbsT = 1.2;  // beyond it the polynomials would run away from the lettering

// Legendre polynomials of degree 2 and 3 and their derivatives (DLMF 18.5, table 18.5.1).
double P2(double t) { return 0.5 * (3 * t * t - 1); }
double P3(double t) { return 0.5 * (5 * t * t * t - 3 * t); }
double P2Derivative(double t) { return 3 * t; }
double P3Derivative(double t) { return 0.5 * (15 * t * t - 3); }

double LineParameter(const SmoothStretch& stretch, double x) {
  return (x - stretch.centre) / stretch.half_length;
}

}  // namespace

Point SmoothStretch::Derivative(double x) const {
  const double t = LineParameter(*this, x);
  if (std::abs(t) > kMaxAbsT) return Point::Zero();
  const double d2 = P2Derivative(t) / half_length;
  const double d3 = P3Derivative(t) / half_length;
  return {along[0] * d2 + along[1] * d3, across[0] * d2 + across[1] * d3};
}

Point SmoothStretch::Displacement(double x) const {
  const double t = std::clamp(LineParameter(*this, x), -kMaxAbsT, kMaxAbsT);
  const double p2 = P2(t), p3 = P3(t);
  return {along[0] * p2 + along[1] * p3, across[0] * p2 + across[1] * p3};
}

Point Placement::ToPhoto(const Point& stamp) const {
  const Point moved = stretch.none() ? stamp : Point(stamp + stretch.Displacement(stamp.x()));
  return (photo_from_stamp * moved.homogeneous()).hnormalized();
}

Point Placement::ToStamp(const Point& photo) const {
  const Eigen::Matrix3d stamp_from_photo = photo_from_stamp.inverse();
  const Point moved = (stamp_from_photo * photo.homogeneous()).hnormalized();
  // The displacement depends on x alone and is small, so its fixed point is reached fast.
  constexpr int kMaxIterations = 60;
  constexpr double kTolerance = 1e-13;
  double x = moved.x();
  for (int i = 0; i < kMaxIterations; ++i) {
    const double next = moved.x() - stretch.Displacement(x).x();
    const bool settled = std::abs(next - x) <= kTolerance * std::max(1.0, std::abs(next));
    x = next;
    if (settled) break;
  }
  return moved - stretch.Displacement(x);
}

Eigen::Matrix2d Placement::JacobianAt(const Point& stamp) const {
  const Point moved = stamp + stretch.Displacement(stamp.x());
  const Eigen::Vector3d h = photo_from_stamp * moved.homogeneous();
  const Point photo = h.hnormalized();
  // Quotient rule on (h0, h1) / h2.
  const Eigen::Matrix2d photo_from_moved =
      (photo_from_stamp.topLeftCorner<2, 2>() - photo * photo_from_stamp.block<1, 2>(2, 0)) / h.z();
  Eigen::Matrix2d moved_from_stamp = Eigen::Matrix2d::Identity();
  moved_from_stamp.col(0) += stretch.Derivative(stamp.x());
  return photo_from_moved * moved_from_stamp;
}

double Placement::ScaleAt(const Point& stamp) const {
  return std::sqrt(std::abs(JacobianAt(stamp).determinant()));
}

}  // namespace debossier::fit
