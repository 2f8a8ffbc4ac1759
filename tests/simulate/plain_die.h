// Dies of closed-form shapes, and amounts with nothing in the way, for the simulator's tests.
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <string>
#include <vector>

#include "simulate/simulate.h"

namespace debossier::simulate {

inline outline::Lettering DieOf(const std::vector<outline::Contour>& contours) {
  outline::Lettering die;
  die.lines.push_back({"wordmark", std::string(contours.size(), 'o'), 0, 1, 0});
  for (std::size_t k = 0; k < contours.size(); ++k) {
    outline::Element element;
    element.id = fmt::format("wordmark.{}", k);
    element.character.assign(1, 'o');
    element.outline.contours = {contours[k]};
    die.elements.push_back(element);
  }
  return die;
}

/// White pigment on black leather, flat, facing, sharp and without noise, seen from afar so that
/// shine does not change across the picture.
inline SimulateOptions PlainOptions() {
  SimulateOptions options;
  options.seed = 7;
  options.level = Level::kClean;
  options.leather = Leather::kSmooth;
  options.finish = Finish::kWhite;
  options.leather_srgb = cv::Vec3b(20, 20, 20);
  options.foil = cv::Vec3f(0.5f, 0.5f, 0.5f);
  Amounts a;
  a.ragged_length_mm = 0.15;
  a.depth_mm = 0;
  a.wall_deg = 60;
  a.grain_size = 1;
  a.foil_roughness = 0.3;
  a.cap_height_px = 120;
  a.cap_height_mm = 3;
  a.distance_mm = 20000;
  a.blur_px = 0.5;
  a.jpeg_quality = 97;
  a.light_azimuth_deg = 120;
  a.light_elevation_deg = 55;
  a.light_size_deg = 25;
  a.room_light = 0.5;
  a.margin = 0.6;
  // Keeps the foil below the camera's shoulder.
  a.exposure_ev = -0.8;
  options.amounts = a;
  return options;
}

inline double LinearGreen(const cv::Mat& bgr, int row, int column) {
  return LinearFromSrgb(static_cast<float>(bgr.at<cv::Vec3b>(row, column)[1]) / 255.0f);
}

/// Area (px^2) and centroid of what is brighter than the leather, weighed in linear light, within
/// `reach` px of a place.
struct Blob {
  double area = 0;
  Point centroid = Point::Zero();
};

inline Blob BlobNear(const cv::Mat& bgr, const Point& near, double reach, double leather,
                     double foil) {
  Blob blob;
  for (int j = 0; j < bgr.rows; ++j) {
    for (int i = 0; i < bgr.cols; ++i) {
      if ((Point(i, j) - near).norm() > reach) continue;
      const double share = (LinearGreen(bgr, j, i) - leather) / (foil - leather);
      blob.area += share;
      blob.centroid += share * Point(i, j);
    }
  }
  blob.centroid /= blob.area;
  return blob;
}

}  // namespace debossier::simulate
