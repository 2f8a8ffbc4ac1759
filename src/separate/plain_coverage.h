// Coverage that knows no outlines: for reading lettering that is not what was placed, where guided
// coverage would take ground for foil and foil for ground.
//
// The direction from ground to foil is the guided coverage's; ground and foil are local means and
// maxima. In linear light, or strokes would look wider on dark leather (IEC 61966-2-1).
// Frame: map pixels, y down. Not for: measuring edges.
#pragma once

#include "separate/coverage.h"

namespace debossier::separate {

/// CV_32F, 0 to 1. `cut` (CV_8UC3): what `learned` was learned from. `cap_height_px` in map pixels,
/// of the lettering to be read.
cv::Mat PlainCoverage(const cv::Mat& cut, const Coverage& learned, double cap_height_px);

}  // namespace debossier::separate
