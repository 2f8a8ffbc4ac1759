// JPEG files that say they are simulated: in the comment (COM) and in EXIF ImageDescription.
//
// Sources: ITU-T T.81 annex B (marker segments), CIPA DC-008 / TIFF 6.0 (tag 270).
#pragma once

#include <opencv2/core.hpp>
#include <string>

#include "base/result.h"

namespace debossier::simulate {

/// Encodes `bgr` (CV_8UC3) with 4:2:0 chroma and marks it. `note` follows the word SIMULATED.
Result<std::string> EncodeMarkedJpeg(const cv::Mat& bgr, int quality, const std::string& note);

}  // namespace debossier::simulate
