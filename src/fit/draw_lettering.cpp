#include "fit/draw_lettering.h"

#include <algorithm>

#include "separate/raster.h"

namespace debossier::fit {

namespace {

/// Every vertex moved outward along the bisector of its two sides, so that both move by as much.
outline::Polyline Grown(const outline::Polyline& line, double gain) {
  outline::Polyline grown;
  grown.reserve(line.size());
  const std::size_t n = line.size();
  const auto outward = [](const Point& from, const Point& to) {
    const Point d = to - from;
    const double length = d.norm();
    return length > 1e-12 ? Point(d.y() / length, -d.x() / length) : Point(0, 0);
  };
  for (std::size_t i = 0; i < n; ++i) {
    const Point sum = outward(line[(i + n - 1) % n], line[i]) + outward(line[i], line[(i + 1) % n]);
    grown.push_back(line[i] + gain * sum / std::max(0.5, 0.5 * sum.squaredNorm()));
  }
  return grown;
}

}  // namespace

void DrawOutline(const outline::Outline& outline, const outline::Affine& move, double gain,
                 const Placement& map_from_stamp, cv::Mat& coverage) {
  const outline::Outline moved = outline::Transformed(outline, move);
  const outline::Box box = outline::Bounds(moved);
  if (box.empty()) return;
  const double px_per_cap = map_from_stamp.ScaleAt(box.centre());
  auto polygons = outline::Flatten(moved, 0.02 / std::max(1.0, px_per_cap));
  for (auto& polygon : polygons) {
    polygon = Grown(polygon, gain);
    for (Point& p : polygon) p = map_from_stamp.ToPhoto(p);
  }
  separate::AddAreaCoverage(polygons, coverage);
}

cv::Mat DrawLettering(const outline::Lettering& lettering, const std::vector<ElementFit>& elements,
                      const Placement& map_from_stamp, const cv::Size& size,
                      std::optional<std::size_t> except) {
  cv::Mat coverage = cv::Mat::zeros(size, CV_32F);
  const double gain = map_from_stamp.gain;
  for (std::size_t i = 0; i < elements.size(); ++i) {
    if (i == except) continue;
    const bool found = elements[i].found;
    DrawOutline(lettering.elements[i].outline, found ? MoveOf(elements[i]) : outline::Affine{},
                gain + (found ? elements[i].value[kOwnGain] : 0), map_from_stamp, coverage);
  }
  DrawOutline(outline::FrameOutline(lettering.frame), {}, gain, map_from_stamp, coverage);
  return coverage;
}

outline::Box PlacedBox(const outline::Outline& outline, const outline::Affine& move,
                       const Placement& placement) {
  const outline::Box box = outline::Bounds(outline::Transformed(outline, move));
  outline::Box placed;
  if (box.empty()) return placed;
  for (const double x : {box.min.x(), box.max.x()}) {
    for (const double y : {box.min.y(), box.max.y()}) placed.Add(placement.ToPhoto({x, y}));
  }
  return placed;
}

cv::Rect RectAround(const outline::Box& box, double margin, const cv::Size& size) {
  if (box.empty()) return {};
  const auto whole = [](double v) { return static_cast<int>(std::clamp(v, -1e6, 1e6)); };
  const cv::Point low(whole(std::floor(box.min.x() - margin)),
                      whole(std::floor(box.min.y() - margin)));
  const cv::Point high(whole(std::ceil(box.max.x() + margin)) + 1,
                       whole(std::ceil(box.max.y() + margin)) + 1);
  return cv::Rect(low, high) & cv::Rect(cv::Point(0, 0), size);
}

Placement SeenFrom(const cv::Point& corner, Placement map_from_stamp) {
  Eigen::Matrix3d shift = Eigen::Matrix3d::Identity();
  shift(0, 2) = -corner.x;
  shift(1, 2) = -corner.y;
  map_from_stamp.photo_from_stamp = shift * map_from_stamp.photo_from_stamp;
  return map_from_stamp;
}

}  // namespace debossier::fit
