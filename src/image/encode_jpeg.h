// A picture as a JPEG file, for thumbnails and simulated photos.
//
// Source: ITU-T T.81, by way of libjpeg; baseline with 4:2:0 chroma. The same picture and quality
// give the same bytes.
// Not for: photos that are measured afterwards with nothing else kept; coding loses detail.
#pragma once

#include <opencv2/core.hpp>
#include <string>

namespace debossier::image {

/// The bytes of a JPEG file of `bgr` (CV_8UC3) at `quality` (1 to 100); empty where it cannot be
/// coded.
std::string EncodeJpeg(const cv::Mat& bgr, int quality);

}  // namespace debossier::image
