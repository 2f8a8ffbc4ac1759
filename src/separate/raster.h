// Polygons to pixel masks.
//
// Frame: pixels, y down, pixel (0, 0) centred at (0, 0).
// Not for: anti-aliased truth (the simulator has its own); these masks seed and label.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "outline/outline.h"

namespace debossier::separate {

/// Fills the polygons (even-odd, to 1/256 px) into `mask` (CV_8U) with `value`.
void FillPolygons(const std::vector<outline::Polyline>& polygons, cv::Mat& mask, int value = 255);

}  // namespace debossier::separate
