// Where a lettering lies in a photo: stamp frame to photo pixels.
//
// The homography carries camera and mild leather stretch; the smooth stretch is a low-order
// displacement along the line, a nuisance seen on real bindings.
// Frames: stamp (cap heights, y up) to photo (pixels, y down).
// Not for: the places of single elements; those are measured relative to this.
#pragma once

#include <Eigen/Core>
#include <Eigen/LU>
#include <array>

#include "outline/outline.h"

namespace debossier::fit {

using outline::Point;

/// A smooth displacement, in cap heights, of a point at (x, y): Legendre polynomials P2 and P3 of
/// t = (x - centre) / half_length, limited to |t| <= 1.2.
struct SmoothStretch {
  double centre = 0;
  double half_length = 1;
  std::array<double, 2> along{};   ///< Amplitudes of P2, P3 in the displacement of x.
  std::array<double, 2> across{};  ///< The same for y.
  Point Displacement(double x) const;
  /// d(Displacement)/dx; zero where t is held at its limit.
  Point Derivative(double x) const;
  bool none() const { return along[0] == 0 && along[1] == 0 && across[0] == 0 && across[1] == 0; }
};

struct Placement {
  Eigen::Matrix3d photo_from_stamp = Eigen::Matrix3d::Identity();
  SmoothStretch stretch;
  double gain = 0;     ///< Outward growth of each edge, cap heights.
  double blur_px = 1;  ///< Standard deviation of the edge's blur.

  Point ToPhoto(const Point& stamp) const;
  /// The inverse, by fixed-point iteration on the smooth stretch.
  Point ToStamp(const Point& photo) const;
  /// The photo point and the derivative there along `direction` (pixels per cap height); the work
  /// of ToPhoto() and JacobianAt() in one.
  struct Ray {
    Point origin;
    Point direction;
  };
  Ray RayAt(const Point& stamp, const Point& direction) const;
  /// Local derivative d(photo)/d(stamp).
  Eigen::Matrix2d JacobianAt(const Point& stamp) const;
  /// Pixels per cap height at a point: square root of the Jacobian's determinant.
  double ScaleAt(const Point& stamp) const;
};

// Inline: the reading of edges spends its time between here and the coverage.
inline Placement::Ray Placement::RayAt(const Point& stamp, const Point& direction) const {
  const bool stretched = !stretch.none();
  const Point moved = stretched ? Point(stamp + stretch.Displacement(stamp.x())) : stamp;
  const Point step =
      stretched ? Point(direction + direction.x() * stretch.Derivative(stamp.x())) : direction;
  const Eigen::Matrix3d& h = photo_from_stamp;
  const double inverse = 1 / (h(2, 0) * moved.x() + h(2, 1) * moved.y() + h(2, 2));
  const double x = (h(0, 0) * moved.x() + h(0, 1) * moved.y() + h(0, 2)) * inverse;
  const double y = (h(1, 0) * moved.x() + h(1, 1) * moved.y() + h(1, 2)) * inverse;
  // Quotient rule.
  const double weight_step = h(2, 0) * step.x() + h(2, 1) * step.y();
  return {{x, y},
          {(h(0, 0) * step.x() + h(0, 1) * step.y() - x * weight_step) * inverse,
           (h(1, 0) * step.x() + h(1, 1) * step.y() - y * weight_step) * inverse}};
}

}  // namespace debossier::fit
