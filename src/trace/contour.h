// Iso-contours of a sampled field, below a pixel.
//
// Marching squares (Lorensen and Cline 1987, in two dimensions) with linear interpolation; saddles
// are resolved by the cell's mean. Contours are closed: the field is taken as 0 outside.
// Frame: pixels of the field, pixel (0, 0) centred at (0, 0), y down.
// Not for: binary masks; give it a soft field.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "outline/outline.h"

namespace debossier::trace {

/// Traces `field` (CV_32F) at `level`. The high side lies on the same hand all along.
std::vector<outline::Polyline> TraceContours(const cv::Mat& field, float level);

}  // namespace debossier::trace
