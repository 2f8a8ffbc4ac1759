// A part of a photo as seen straight on, in the stamp's frame: photos of different items at one
// scale and in one place.
//
// Frame: picture pixels, y down, pixel (0, 0) with its centre at (0, 0).
// Not for: measuring; every pixel is interpolated.
#pragma once

#include <opencv2/core.hpp>

#include "fit/placement.h"
#include "outline/outline.h"

namespace debossier::report {

struct Straightened {
  cv::Mat bgr;                        ///< CV_8UC3; white where the photo ends.
  outline::Box box;                   ///< What it shows, stamp frame.
  fit::Placement picture_from_stamp;  ///< A scale and a shift.
};

/// `box` of the stamp at the photo's own scale, but at no more than `most_px` pixels a cap height.
/// Empty `bgr` where the placement cannot be drawn. @pre `bgr` is CV_8UC3.
Straightened Straighten(const cv::Mat& bgr, const fit::Placement& photo_from_stamp,
                        const outline::Box& box, double most_px);

}  // namespace debossier::report
