// Bilinear sampling of a coverage map.
//
// Frame: map pixels, pixel (0, 0) centred at (0, 0), y down.
// Not for: other pixel types than CV_32F.
#pragma once

#include <opencv2/core.hpp>

namespace debossier::fit {

/// True where all four neighbours of (x, y) lie in the map.
inline bool InsideMap(const cv::Mat& map, double x, double y) {
  return x >= 0 && y >= 0 && x < map.cols - 1 && y < map.rows - 1;
}

/// @pre InsideMap(map, x, y)
inline float SampleMap(const cv::Mat& map, double x, double y) {
  const int x0 = static_cast<int>(x);
  const int y0 = static_cast<int>(y);
  const float fx = static_cast<float>(x - x0);
  const float fy = static_cast<float>(y - y0);
  const float* top = map.ptr<float>(y0) + x0;
  const float* bottom = map.ptr<float>(y0 + 1) + x0;
  const float a = top[0] + fx * (top[1] - top[0]);
  const float b = bottom[0] + fx * (bottom[1] - bottom[0]);
  return a + fy * (b - a);
}

}  // namespace debossier::fit
