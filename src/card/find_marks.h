// Marks of the scale card in a photo: dark dots whose ring of sectors reads as a code word.
//
// Frame: photo (pixels, y down).
// Not for: places below a tenth of a pixel; see refine_marks.h.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "card/design.h"

namespace debossier::card {

struct Mark {
  int fiducial_idx = 0;  ///< Into Fiducials().
  Point centre;
  double radius_px = 0;  ///< Of the dot: root of the product of the half axes.
  Point sector_zero;     ///< Unit vector in the photo to where sector 0 begins.
  double contrast = 0;   ///< White less black, grey levels.
};

/// Every mark that reads, in a copy of `grey` (CV_8U) reduced by the whole number `reduction`; the
/// places are those of the whole photo. Marks whose dots are smaller than 3 px across in the copy
/// are not found.
std::vector<Mark> FindMarks(const cv::Mat& grey, int reduction);

}  // namespace debossier::card
