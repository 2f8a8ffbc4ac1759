// The turn and the slant of printed rows, from the sharpness of their projections.
//
// Postl 1986 style: of all angles, the one at which row sums vary most from row to row.
// Frame: pixels, y down; angles counter-clockwise as seen, radians.
// Not for: turns beyond the given limit.
#pragma once

#include <opencv2/core.hpp>

namespace debossier::reading {

/// Estimates the turn of text rows in `mask` (CV_8U) within +-`limit_rad`.
double EstimateSkew(const cv::Mat& mask, double limit_rad);

/// Estimates the slant of upright-row letters: the shear dx/dy (y up) that makes column sums vary
/// most, within +-`limit`. `row` holds one line of text.
double EstimateSlant(const cv::Mat& row, double limit);

}  // namespace debossier::reading
