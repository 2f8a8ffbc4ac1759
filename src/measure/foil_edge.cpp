#include "measure/foil_edge.h"

#include <Eigen/Geometry>
#include <opencv2/imgproc.hpp>

#include "fit/draw_lettering.h"

namespace debossier::measure {

std::vector<outline::Polyline> FoilEdgeAbout(const outline::Outline& element,
                                             const fit::PlaceReport& placed) {
  constexpr double kAbout = 0.08;  // cap heights: few letters stand closer
  constexpr int kFiner = 4;
  const fit::Placement& map_from_stamp = placed.map_from_stamp;
  const cv::Mat& alpha = placed.coverage.alpha;
  const outline::Affine still;
  const outline::Box box = fit::PlacedBox(element, still, map_from_stamp);
  if (box.empty()) return {};
  const double margin = kAbout * map_from_stamp.ScaleAt(outline::Bounds(element).centre()) + 2;
  const cv::Rect part = fit::RectAround(box, margin, alpha.size());
  if (part.width < 2 || part.height < 2) return {};
  cv::Mat near = cv::Mat::zeros(part.size(), CV_32F);
  fit::DrawOutline(element, still, kAbout, fit::SeenFrom(part.tl(), map_from_stamp), near);
  cv::Mat foil = cv::min(alpha(part), near);
  cv::resize(foil, foil, cv::Size(), kFiner, kFiner, cv::INTER_LINEAR);
  const cv::Mat inside = foil > 0.5;
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(inside, contours, cv::RETR_CCOMP, cv::CHAIN_APPROX_SIMPLE);
  const Eigen::Matrix3d photo_from_map = placed.coverage.grid.PhotoFromMap();
  std::vector<outline::Polyline> edges;
  edges.reserve(contours.size());
  for (const auto& contour : contours) {
    outline::Polyline edge;
    edge.reserve(contour.size());
    for (const cv::Point& p : contour) {
      const outline::Point map(part.x + (p.x + 0.5) / kFiner - 0.5,
                               part.y + (p.y + 0.5) / kFiner - 0.5);
      edge.push_back((photo_from_map * map.homogeneous()).hnormalized());
    }
    edges.push_back(std::move(edge));
  }
  return edges;
}

}  // namespace debossier::measure
