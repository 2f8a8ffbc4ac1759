#include "fit/label_pixels.h"

#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "image/blocks.h"
#include "separate/raster.h"

namespace debossier::fit {

namespace {

/// The mask grown by `steps` pixels, as an octagon.
cv::Mat Widened(const cv::Mat& mask, int steps) {
  const cv::Mat cross = cv::getStructuringElement(cv::MORPH_CROSS, cv::Size(3, 3));
  const cv::Mat square = cv::getStructuringElement(cv::MORPH_RECT, cv::Size(3, 3));
  cv::Mat grown = mask;
  for (int k = 0; k < steps; ++k) {
    cv::Mat next;
    cv::dilate(grown, next, k % 2 == 0 ? cross : square);
    grown = next;
  }
  return grown;
}

/// Pixels within about `reach` of the mask; made on a coarse copy.
cv::Mat Around(const cv::Mat& mask, double reach) {
  const int reduce = std::max(1, static_cast<int>(reach / 12));
  cv::Mat distance;
  cv::distanceTransform(image::BlocksWithAny(mask, reduce) == 0, distance, cv::DIST_L2, 3);
  return image::Repeated(distance < reach / reduce, reduce, mask.size());
}

}  // namespace

Labels LabelPixels(const Placement& map_from_stamp, const outline::Lettering& lettering,
                   const std::vector<ElementFit>& moved, const cv::Size& size, double cap_px) {
  cv::Mat mask = cv::Mat::zeros(size, CV_8U);
  const auto draw = [&](const outline::Outline& outline, const outline::Affine& move) {
    auto polygons = outline::Flatten(outline, 0.3 / cap_px);
    for (auto& polygon : polygons) {
      for (auto& p : polygon) p = map_from_stamp.ToPhoto(move * p);
    }
    separate::FillPolygons(polygons, mask);
  };
  for (std::size_t i = 0; i < lettering.elements.size(); ++i) {
    const bool use = i < moved.size() && moved[i].found;
    draw(lettering.elements[i].outline, use ? MoveOf(moved[i]) : outline::Affine{});
  }
  draw(outline::FrameOutline(lettering.frame), {});
  Labels labels;
  // All but the rim of one pixel.
  cv::erode(mask, labels.foil, cv::getStructuringElement(cv::MORPH_CROSS, cv::Size(3, 3)));
  // Hairlines have no core: where little would be left, the whole stroke serves.
  if (cv::countNonZero(labels.foil) < cv::countNonZero(mask) / 4) labels.foil = mask;
  const double near = std::max(2.0, 0.06 * cap_px);
  labels.ground = Around(mask, cap_px) & ~Widened(mask, cvRound(near));
  return labels;
}

}  // namespace debossier::fit
