// What the format decoders share: how alpha is laid over mid grey.
//
// Not for: anything beside the decoders of this layer.
#pragma once

#include <cstdint>
#include <opencv2/core.hpp>
#include <string>

namespace debossier::image {

/// How the alpha channel of a decoded picture is meant.
enum class Alpha { kStraight, kPremultiplied };

/// CV_8UC3 of a CV_8UC4 picture (B G R A) laid over mid grey, 128.
cv::Mat OverMidGrey(const cv::Mat& bgra, Alpha alpha);

/// Each decodes a whole file to CV_8UC3, B G R, as stored. An empty picture where the data are
/// damaged, of a kind not read here, or of another size than `size`. May throw std::bad_alloc and
/// cv::Exception.
cv::Mat DecodeJpeg(const std::string& bytes, cv::Size size);
cv::Mat DecodePng(const std::string& bytes, cv::Size size);
cv::Mat DecodeTiff(const std::string& bytes, cv::Size size);
cv::Mat DecodeWebp(const std::string& bytes, cv::Size size);
/// As shown: turned, mirrored and cut as the file says.
/// @pre ReadHeicHeader() gave `size`
cv::Mat DecodeHeic(const std::string& bytes, cv::Size size);

}  // namespace debossier::image
