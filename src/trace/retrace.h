// The mean of registered photos in the stamp frame, and outlines traced from it.
//
// Frame: stamp; grid pixels of the mean, y down. Not for: registering; see consensus.h.
#pragma once

#include <Eigen/Core>
#include <opencv2/core.hpp>
#include <vector>

#include "fit/place_lettering.h"
#include "outline/lettering.h"
#include "trace/sharpen.h"

namespace debossier::trace {

/// The pixels of a mean.
struct StampGrid {
  cv::Size size;
  Eigen::Matrix3d grid_from_stamp = Eigen::Matrix3d::Identity();
  outline::Affine stamp_from_grid;
};

/// How the mean is made and traced.
struct RetraceOptions {
  double grid_px_per_cap = 140;  ///< Resolution of the averaged coverage.
  double smoothing = 0.006;  ///< Standard deviation, cap heights, of the smoothing before tracing.
  SharpenOptions sharpen;
  double most_noise = 0.1;        ///< Noise of the mean coverage above which blur is left in.
  double min_part_area = 0.0016;  ///< Smaller specks are dropped, cap heights squared.
};

struct MeanPicture {
  cv::Mat mean;        ///< CV_32F coverage in the grid.
  cv::Mat sharp_mean;  ///< The same, in which the sharpest items count most: for marks.
  StampGrid grid;
  double noise = 0;  ///< Standard deviation of the mean over the ground.
};

/// Mean coverage of the items about `lettering`. Where foil has worn off an item says little, so it
/// counts by how much of the lettering's foil it shows near by.
MeanPicture MeanOf(const std::vector<fit::PlaceReport>& items, const outline::Lettering& lettering,
                   const RetraceOptions& options);

/// Re-traces every element from the foil that is nearest to its outline, marks from the sharpest
/// items' mean.
void Retrace(const MeanPicture& picture, const RetraceOptions& options,
             outline::Lettering& lettering);

}  // namespace debossier::trace
