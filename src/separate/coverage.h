// Guided coverage: how much of each pixel is foil, learned in this photo from where the lettering
// lies.
//
// A linear discriminant on colour with local foil and ground colours: c = a F + (1 - a) G is solved
// for the coverage a, where F and G are smooth local means over pixels that the placed outlines
// call foil and ground, and the metric is the ground's own noise. It is linear in the mixture, so
// an edge stands where a = 1/2. Frame: map pixels, y down; PixelGrid maps to photo pixels. Not for:
// a photo whose lettering is not placed yet (contrast.h).
#pragma once

#include <Eigen/Core>
#include <opencv2/core.hpp>

namespace debossier::separate {

/// A reduced cut-out of a photo: map pixel (x, y) has its centre at photo pixel
/// ((x + 0.5) * scale - 0.5 + origin.x, ...).
struct PixelGrid {
  cv::Rect origin;     ///< The cut-out in the photo.
  double scale_x = 1;  ///< Photo pixels per map pixel.
  double scale_y = 1;
  double smoothing_px = 0;  ///< What CutOut() smoothed by, in map pixels.
  Eigen::Matrix3d PhotoFromMap() const;
};

/// Cuts `wanted` (clipped to the photo) out, smooths it against grain and noise (standard deviation
/// `smoothing_px` photo pixels; 0: none) and reduces it so that `reduction` photo pixels make one.
/// The photo itself stays as it is; without smoothing and reduction the result is a view of it.
cv::Mat CutOut(const cv::Mat& bgr, const cv::Rect& wanted, double reduction, double smoothing_px,
               PixelGrid* grid);

/// The smoothing that lettering of this size bears (standard deviation, px): 1 % of the cap height
/// up to 2 px, not below a pixel, and less than that only where a pixel is 2 % of the cap height.
double SmoothingFor(double cap_height_px);

struct CoverageOptions {
  double foil_window = 0.35;    ///< Standard deviation of the foil's local mean, cap heights.
  double ground_window = 0.35;  ///< The same of the ground's.
  double prior_weight = 0.25;   ///< Pull of the local foil colour towards the photo's mean.
  double smoothing_px = 0.6;    ///< Standard deviation of the smoothing of the result.
};

struct Coverage {
  cv::Mat alpha;  ///< CV_32F; 0 ground, 1 foil; clipped to [-0.5, 1.5].
  PixelGrid grid;
  cv::Vec3f foil_colour;    ///< Mean codes of the foil, of the ground, and the direction in which
  cv::Vec3f ground_colour;  ///< coverage is read.
  cv::Vec3f direction;
  double contrast = 0;  ///< Foil against ground, in standard deviations of the ground's noise.
  double noise = 0;     ///< Standard deviation of alpha on the ground.
};

/// Computes the coverage of `bgr` (CV_8UC3, a cut-out) from the masks (CV_8U) of pixels that are
/// surely foil and surely ground. `cap_height_px` in map pixels.
Coverage GuidedCoverage(const cv::Mat& bgr, const PixelGrid& grid, const cv::Mat& foil,
                        const cv::Mat& ground, double cap_height_px,
                        const CoverageOptions& options = {});

/// The coverage that the same separation makes of a drawing in one tone (`codes`, CV_8U; the masks
/// as above): with one channel the metric cancels. Up to rounding what GuidedCoverage() makes of
/// three channels that are all alike.
cv::Mat GuidedCoverageOfDrawing(const cv::Mat& codes, const cv::Mat& foil, const cv::Mat& ground,
                                double cap_height_px, const CoverageOptions& options = {});

}  // namespace debossier::separate
