// Reduction by whole blocks of pixels, on the way to coarse copies.
//
// Pictures are CV_8U, blocks squares of `factor` pixels a side, 1 to 256.
// Not for: reduction by fractions (cv::resize).
#pragma once

#include <opencv2/core.hpp>

namespace debossier::image {

/// The mean of every whole block, rounded to the nearest code; any number of channels. Pixels at
/// the right and lower border that fill no block fall away. As cv::resize with INTER_AREA, which
/// takes four times as long for factors above two.
cv::Mat BlockMeans(const cv::Mat& picture, int factor);

/// 255 for every block that holds a pixel other than 0, one channel; border blocks may be partial.
cv::Mat BlocksWithAny(const cv::Mat& mask, int factor);

/// Every pixel repeated as a block, cut to `size`: one channel.
cv::Mat Repeated(const cv::Mat& blocks, int factor, const cv::Size& size);

}  // namespace debossier::image
