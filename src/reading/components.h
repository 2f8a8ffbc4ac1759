// Connected components of a mask with their moments: the raw material of placement and reading.
//
// Frame: pixels of the mask, y down.
// Not for: measuring; component boxes follow the mask, not the edge.
#pragma once

#include <Eigen/Core>
#include <opencv2/core.hpp>
#include <vector>

namespace debossier::reading {

struct Component {
  int label = 0;  ///< In the label image.
  cv::Rect box;
  double area = 0;  ///< Pixels.
  Eigen::Vector2d centroid{0, 0};
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< Of the pixel positions.
};

struct ComponentOptions {
  double min_area = 12;          ///< Smaller specks are dropped.
  double max_side_share = 0.98;  ///< A component this wide and high is the ground, not lettering.
  int max_components = 4000;     ///< The largest are kept.
};

/// Finds the 8-connected components of `mask` (CV_8U, non-zero is foil). `labels` (CV_32S) may be
/// null. Sorted by label.
std::vector<Component> FindComponents(const cv::Mat& mask, const ComponentOptions& options,
                                      cv::Mat* labels);

}  // namespace debossier::reading
