#include "report/straightened.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "image/blocks.h"

namespace debossier::report {

using outline::Point;

namespace {

constexpr double kMostPixels = 4e6;
constexpr int kMostFactor = 64;

/// The part of the photo about the box, reduced by whole blocks where it is much larger than what
/// is wanted: interpolation alone would leave out pixels and show grain that is not there.
struct Reduced {
  cv::Mat bgr;
  Point corner{0, 0};  ///< Photo pixel of its first one.
  double factor = 1;
};

Reduced ReducedAbout(const cv::Mat& bgr, const fit::Placement& placement, const outline::Box& box,
                     int factor) {
  outline::Box photo;
  for (const double tx : {0.0, 0.5, 1.0}) {
    for (const double ty : {0.0, 0.5, 1.0}) {
      photo.Add(
          placement.ToPhoto({box.min.x() + tx * box.width(), box.min.y() + ty * box.height()}));
    }
  }
  const Point margin = Point::Constant(2.0 * factor + 2);
  const Point low = (photo.min - margin).cwiseMax(0);
  const Point high = (photo.max + margin).cwiseMin(Point(bgr.cols, bgr.rows));
  const cv::Rect part(cv::Point(static_cast<int>(low.x()), static_cast<int>(low.y())),
                      cv::Point(static_cast<int>(high.x()), static_cast<int>(high.y())));
  if (part.width < factor || part.height < factor) return {};
  const cv::Mat cut = bgr(part);
  const Point centre_of_first = Point::Constant((factor - 1) / 2.0);
  return {factor > 1 ? image::BlockMeans(cut, factor) : cut,
          Point(part.x, part.y) + centre_of_first, static_cast<double>(factor)};
}

bool Drawable(const fit::Placement& placement, const outline::Box& box) {
  for (const Point& corner :
       {box.min, box.max, Point(box.min.x(), box.max.y()), Point(box.max.x(), box.min.y())}) {
    const Point photo = placement.ToPhoto(corner);
    if (!(photo.cwiseAbs().maxCoeff() < 1e6)) return false;
  }
  const double scale = placement.ScaleAt(box.centre());
  return scale > 1e-3 && scale < 1e6;
}

}  // namespace

Straightened Straighten(const cv::Mat& bgr, const fit::Placement& photo_from_stamp,
                        const outline::Box& box, double most_px) {
  Straightened out;
  out.box = box;
  if (bgr.empty() || box.empty() || !Drawable(photo_from_stamp, box)) return out;
  const double own = photo_from_stamp.ScaleAt(box.centre());
  const double fits = std::sqrt(kMostPixels / (box.width() * box.height()));
  const double scale = std::min({own, most_px, fits});
  const int cols = std::max(1, static_cast<int>(std::lround(box.width() * scale)));
  const int rows = std::max(1, static_cast<int>(std::lround(box.height() * scale)));
  out.picture_from_stamp.photo_from_stamp << scale, 0, -box.min.x() * scale - 0.5,  //
      0, -scale, box.max.y() * scale - 0.5,                                         //
      0, 0, 1;
  const int factor = std::clamp(static_cast<int>(own / scale), 1, kMostFactor);
  const Reduced from = ReducedAbout(bgr, photo_from_stamp, box, factor);
  if (from.bgr.empty()) return out;
  cv::Mat map(rows, cols, CV_32FC2);
  for (int y = 0; y < rows; ++y) {
    auto* row = map.ptr<cv::Vec2f>(y);
    for (int x = 0; x < cols; ++x) {
      const Point stamp(box.min.x() + (x + 0.5) / scale, box.max.y() - (y + 0.5) / scale);
      const Point at = (photo_from_stamp.ToPhoto(stamp) - from.corner) / from.factor;
      row[x] = {static_cast<float>(at.x()), static_cast<float>(at.y())};
    }
  }
  cv::remap(from.bgr, out.bgr, map, cv::noArray(), cv::INTER_LINEAR, cv::BORDER_CONSTANT,
            cv::Scalar::all(255));
  return out;
}

}  // namespace debossier::report
