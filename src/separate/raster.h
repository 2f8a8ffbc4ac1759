// Polygons to pixels: masks, and the exact area of each pixel that is covered.
//
// Frame: pixels, y down, pixel (0, 0) centred at (0, 0).
// Not for: light on leather; the simulator has its own rendering.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "outline/outline.h"

namespace debossier::separate {

/// Fills the polygons (even-odd, to 1/256 px) into `mask` (CV_8U) with `value`.
void FillPolygons(const std::vector<outline::Polyline>& polygons, cv::Mat& mask, int value = 255);

/// Adds to `coverage` (CV_32F) the share of each pixel's area that the polygons cover. They are
/// well directed (counters against their outer contours), either way round, and do not overlap.
void AddAreaCoverage(const std::vector<outline::Polyline>& polygons, cv::Mat& coverage);

}  // namespace debossier::separate
