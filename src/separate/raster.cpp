#include "separate/raster.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <utility>

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

namespace {

/// Sums of signed areas over a window of pixels, from which the coverage follows row by row: each
/// side of a polygon adds the area between itself and the window's right border.
class AreaSums {
 public:
  explicit AreaSums(const cv::Rect& window)
      : window_(window), sums_(cv::Mat::zeros(window.height, window.width + 2, CV_32F)) {}

  void AddSide(outline::Point a, outline::Point b) {
    // Pixel (0, 0) is centred at (0, 0): its area begins half a pixel before.
    const outline::Point shift(0.5 - window_.x, 0.5 - window_.y);
    a += shift;
    b += shift;
    const double sign = a.y() < b.y() ? 1 : -1;
    if (a.y() > b.y()) std::swap(a, b);
    const double height = b.y() - a.y();
    if (!(height >= 1e-12) || !a.allFinite() || !b.allFinite()) return;
    const double slope = (b.x() - a.x()) / height;
    const auto row_of = [&](double y) {
      return static_cast<int>(std::clamp(std::floor(y), -1.0, static_cast<double>(window_.height)));
    };
    const int last = std::min(window_.height - 1, row_of(b.y()));
    for (int row = std::max(0, row_of(a.y())); row <= last; ++row) {
      const double y0 = std::max<double>(row, a.y());
      const double y1 = std::min<double>(row + 1, b.y());
      if (y1 <= y0) continue;
      AddInRow(row, a.x() + slope * (y0 - a.y()), a.x() + slope * (y1 - a.y()), sign * (y1 - y0));
    }
  }

  void AddTo(cv::Mat& coverage) const {
    for (int row = 0; row < window_.height; ++row) {
      const auto* from = sums_.ptr<float>(row);
      auto* to = coverage.ptr<float>(row + window_.y) + window_.x;
      float sum = 0;
      for (int x = 0; x < window_.width; ++x) {
        sum += from[x];
        to[x] = std::min(1.f, to[x] + std::abs(sum));
      }
    }
  }

 private:
  /// A piece within one row from x0 to x1: to each pixel the area right of it, as the difference
  /// from the pixel before.
  void AddInRow(int row, double x0, double x1, double height) {
    auto* sums = sums_.ptr<float>(row);
    const double most = window_.width + 1;
    if (x0 > x1) std::swap(x0, x1);
    x0 = std::clamp(x0, 0.0, most - 1e-9);
    x1 = std::clamp(x1, 0.0, most - 1e-9);
    const int first = static_cast<int>(x0);
    const int last = static_cast<int>(x1);
    const double width = x1 - x0;
    double before = 0;  // covered share of the piece's height in the pixel before
    for (int x = first; x <= last; ++x) {
      // Mean over the piece of the part of this pixel that lies right of it.
      const double left = std::max<double>(x, x0);
      const double right = std::min<double>(x + 1, x1);
      double now = x + 1 - 0.5 * (x0 + x1);
      if (last > first) {
        const double inside = right - left;
        now = (inside * (x + 1 - 0.5 * (left + right)) + (left - x0)) / width;
      }
      sums[x] += static_cast<float>(height * (now - before));
      before = now;
    }
    sums[last + 1] += static_cast<float>(height * (1 - before));
  }

  cv::Rect window_;
  cv::Mat sums_;
};

}  // namespace

void AddAreaCoverage(const std::vector<outline::Polyline>& polygons, cv::Mat& coverage) {
  outline::Box box;
  for (const auto& polygon : polygons) {
    for (const auto& p : polygon) box.Add(p);
  }
  const cv::Rect all(0, 0, coverage.cols, coverage.rows);
  if (box.empty() || !(box.max - box.min).allFinite()) return;
  const auto whole = [](double v) { return static_cast<int>(std::clamp(v, -1e6, 1e6)); };
  const cv::Point low(whole(std::floor(box.min.x())) - 1, whole(std::floor(box.min.y())) - 1);
  const cv::Point high(whole(std::ceil(box.max.x())) + 2, whole(std::ceil(box.max.y())) + 2);
  const cv::Rect window = cv::Rect(low, high) & all;
  if (window.empty()) return;
  AreaSums sums(window);
  for (const auto& polygon : polygons) {
    for (std::size_t i = 0; i < polygon.size(); ++i) {
      sums.AddSide(polygon[i], polygon[i + 1 < polygon.size() ? i + 1 : 0]);
    }
  }
  sums.AddTo(coverage);
}

}  // namespace debossier::separate
