// The homography of a plane in a photo, fitted to points whose places in the plane are known, with
// the covariance of its entries.
//
// Start: direct linear transformation on normalised points; then Gauss-Newton on the weighted
// distances in the photo (Hartley and Zisserman 2004, chapters 4 and 5).
// Frames: plane (mm), photo (pixels, y down).
// Not for: lens distortion; phones correct most of it, the rest is a term of the scale's
// uncertainty.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "outline/outline.h"

namespace debossier::card {

using outline::Point;

/// `h` applied to a point.
Point Applied(const Eigen::Matrix3d& h, const Point& p);
/// Derivative of Applied() in p.
Eigen::Matrix2d JacobianOf(const Eigen::Matrix3d& h, const Point& p);

struct PlanePoint {
  Point plane;
  Point photo;
  double u_px = 1;  ///< Standard uncertainty of each photo coordinate.
};

struct PlaneFit {
  Eigen::Matrix3d photo_from_plane = Eigen::Matrix3d::Identity();  ///< Last entry 1.
  /// Of the first eight entries, row by row, from the points' u_px; grown by `birge` where the
  /// points lie further off than their u_px says.
  Eigen::Matrix<double, 8, 8> covariance = Eigen::Matrix<double, 8, 8>::Zero();
  double birge = 1;                 ///< Root of chi square over degrees of freedom, 1 at least.
  int degrees_of_freedom = 0;       ///< 2 n - 8.
  std::vector<Point> residuals_mm;  ///< In the plane, one a point.
  double residual_rms_mm = 0;       ///< Root mean square of their lengths.

  Point ToPlane(const Point& photo) const;
  /// Standard uncertainty of a smooth function of the homography, by central differences along
  /// the principal axes of the covariance (GUM 5.1.3, 5.2.2).
  double UncertaintyOf(const std::function<double(const Eigen::Matrix3d&)>& f) const;
};

/// Fits. Empty where there are fewer than four points, where they lie too nearly on one line, or
/// where the fit does not settle.
std::optional<PlaneFit> FitPlane(std::span<const PlanePoint> points);

}  // namespace debossier::card
