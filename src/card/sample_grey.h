// Grey levels between pixels.
//
// Frame: photo (pixels, y down, pixel (0, 0) has its centre at (0, 0)).
#pragma once

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

#include "outline/outline.h"

namespace debossier::card {

class SampleGrey {
 public:
  /// Keeps a reference to `grey` (CV_8U).
  explicit SampleGrey(const cv::Mat& grey) : grey_(grey) { CV_Assert(grey.type() == CV_8U); }

  /// Bilinear; places outside are taken at the border.
  double At(const outline::Point& p) const {
    const double x = std::clamp(p.x(), 0.0, grey_.cols - 1.0);
    const double y = std::clamp(p.y(), 0.0, grey_.rows - 1.0);
    const int x0 = std::min(static_cast<int>(x), std::max(grey_.cols - 2, 0));
    const int y0 = std::min(static_cast<int>(y), std::max(grey_.rows - 2, 0));
    const int x1 = std::min(x0 + 1, grey_.cols - 1), y1 = std::min(y0 + 1, grey_.rows - 1);
    const auto* upper = grey_.ptr<unsigned char>(y0);
    const auto* lower = grey_.ptr<unsigned char>(y1);
    const double a = x - x0, b = y - y0;
    return (1 - b) * ((1 - a) * upper[x0] + a * upper[x1]) +
           b * ((1 - a) * lower[x0] + a * lower[x1]);
  }
  bool Holds(const outline::Point& p) const {
    return p.x() >= 0 && p.y() >= 0 && p.x() <= grey_.cols - 1 && p.y() <= grey_.rows - 1;
  }

 private:
  const cv::Mat& grey_;
};

}  // namespace debossier::card
