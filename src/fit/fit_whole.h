// Fits the whole lettering to a coverage map: homography, smooth stretch and stroke gain, robustly.
//
// Gauss-Newton on normal displacements of the outline's edges (iteratively reweighted, Tukey 1977
// biweight), with priors on tilt (perspective), on the ratio and angle of the axes (stretch of
// leather, tilt) and on the smooth stretch, so that a thin line of lettering cannot buy its
// departures with a camera that nobody held.
// Frames: stamp (cap heights, y up) to map pixels (y down).
// Not for: finding the lettering; the start must lie within about 0.1 cap height.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "fit/edge.h"
#include "fit/placement.h"
#include "outline/lettering.h"

namespace debossier::fit {

struct WholeOptions {
  double perspective_sd = 0.0025;  ///< Prior of the projective terms, per cap height.
  bool lines_move = true;          ///< Lines after the first have a size and a place of their own.
  double aspect_sd = 0.04;         ///< Prior of log(x scale / y scale).
  double shear_sd = 0.04;          ///< Prior of the axes' deviation from a right angle.
  double stretch_sd = 0.004;       ///< Prior of each smooth-stretch amplitude, cap heights.
  double gain_sd = 0.03;           ///< Prior of the stroke gain, cap heights.
  double step = 0.045;             ///< Spacing of the edge samples, cap heights.
  bool free_aspect = false;        ///< The scale of x and y cannot be trusted: no prior on aspect.
  bool fit_stretch = false;        ///< Fit the smooth stretch too.
};

/// The nuisances of a placement as the priors see them, at the lettering's centre.
struct PlacementShape {
  double scale = 1;                   ///< Map pixels per cap height (geometric mean).
  double log_aspect = 0;              ///< log(x scale / y scale).
  double shear = 0;                   ///< Cosine of the angle between the axes, signed.
  Eigen::Vector2d perspective{0, 0};  ///< Relative change of the homogeneous weight per cap height.
  double turn = 0;  ///< Angle of the baseline, counter-clockwise as seen, radians.
};

PlacementShape ShapeOf(const Placement& placement, const Point& centre);

/// An increment of the placement in the stamp frame: affine part, projective part.
/// Coefficients: dx = a0 + a1 x + a2 y + x (p x + q y); dy = b0 + b1 x + b2 y + y (p x + q y),
/// with x, y from `centre`. Order: a0 a1 a2 b0 b1 b2 p q.
using WarpIncrement = Eigen::Matrix<double, 8, 1>;

/// Row of the increment's derivative for a displacement component along `n` at `x`.
Eigen::Matrix<double, 8, 1> WarpRow(const Point& x, const Point& n, const Point& centre);

void ApplyIncrement(const WarpIncrement& increment, const Point& centre, Placement& placement);

/// Adds the priors, as pseudo-observations about the current placement, to the normal equations.
void AddWarpPrior(const Placement& placement, const Point& centre, const WholeOptions& options,
                  Eigen::MatrixXd& normal, Eigen::VectorXd& right);

struct WholeReport {
  Placement placement;     ///< Map from stamp.
  double residual = 0;     ///< Robust standard deviation of the edges, cap heights.
  double edges_found = 0;  ///< Share of the outline's length with an edge within the window.
  int iterations = 0;
};

/// Fits from `start`, narrowing the search window from `first_window` to `last_window` cap heights.
WholeReport FitWhole(const cv::Mat& alpha, const outline::Lettering& lettering,
                     const Placement& start, double first_window, double last_window,
                     const WholeOptions& options = {});

}  // namespace debossier::fit
