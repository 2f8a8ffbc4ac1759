// Pixels of a whole picture file, as 8-bit colour.
//
// Frame: as stored, before the EXIF turn (Turned() applies it).
// Not for: files whose header and length were not checked first (picture_file.h).
#pragma once

#include <opencv2/core.hpp>
#include <string>

#include "base/result.h"
#include "image/photo.h"

namespace debossier::image {

/// Decodes to CV_8UC3. Alpha is laid over mid grey, so that a cut-out picture gets no hard edge
/// to black or white. Refuses with kNotAnImage where the decoder fails or disagrees with `header`.
Result<cv::Mat> Decode(const std::string& bytes, const Header& header, const std::string& where);

/// `stored` turned upright: EXIF 2.32, tag 274, says where row 0 and column 0 belong.
/// Uses up `stored`.
cv::Mat Turned(cv::Mat stored, int exif_orientation);

}  // namespace debossier::image
