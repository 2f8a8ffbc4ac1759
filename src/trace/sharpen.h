// Takes the blur out of traced outlines: what blur rounds off at corners and in small counters.
//
// The level line at one half of a blurred shape is the shape's edge only where the edge is
// straight; at a corner it lies inside (Verbeek and van Vliet 1993, "On the location error of
// curved edges in low-pass filtered 2-D and 3-D images"). The outline is moved until its own
// blurred picture agrees with the measured coverage along it: van Cittert's iteration (1931), on
// the outline instead of the pixels, so that noise away from the edge does not grow. Frame: pixels
// of the coverage, y down; foil on the right of the travel as from TraceContours(). Not for:
// coverage whose blur is far from even over the element.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "outline/outline.h"

namespace debossier::trace {

struct SharpenOptions {
  int rounds = 4;          ///< More bring out sharper corners, and more of the noise.
  double max_blur_px = 6;  ///< Blur beyond this is left as it is.
  double blur_px = 0;      ///< 0: estimated from the coverage along the contours.
};

/// Standard deviation of the blur, pixels, from the slope of the coverage where the contours are
/// straight; 0 where too little is.
double EstimateBlur(const cv::Mat& coverage, const std::vector<outline::Polyline>& contours);

/// The contours with the blur taken out. @pre `coverage` is CV_32F, the contours lie in it.
std::vector<outline::Polyline> Sharpen(const cv::Mat& coverage,
                                       std::vector<outline::Polyline> contours,
                                       const SharpenOptions& options = {});

}  // namespace debossier::trace
