#include "separate/raster.h"

#include <algorithm>
#include <opencv2/imgproc.hpp>

namespace debossier::separate {

void FillPolygons(const std::vector<outline::Polyline>& polygons, cv::Mat& mask, int value) {
  constexpr int kShift = 8;
  // Far points are clamped so that fixed-point coordinates cannot overflow.
  const double limit = 30000;
  std::vector<std::vector<cv::Point>> fixed;
  fixed.reserve(polygons.size());
  for (const auto& polygon : polygons) {
    if (polygon.size() < 3) continue;
    std::vector<cv::Point> points;
    points.reserve(polygon.size());
    for (const auto& p : polygon) {
      points.emplace_back(cvRound(std::clamp(p.x(), -limit, limit) * (1 << kShift)),
                          cvRound(std::clamp(p.y(), -limit, limit) * (1 << kShift)));
    }
    fixed.push_back(std::move(points));
  }
  if (!fixed.empty()) cv::fillPoly(mask, fixed, cv::Scalar(value), cv::LINE_8, kShift);
}

}  // namespace debossier::separate
