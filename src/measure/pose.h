// Place, size and slant of one element against the reference's: the five values from which
// departures are judged.
//
// Frame: stamp, under the placement of the whole photo, so that what the camera and a mild stretch
// do is common to all elements and still in them. Place is that of the middle of the element's box.
// Not for: lengths to print; those are in measurements.h.
#pragma once

#include <Eigen/Core>

namespace debossier::measure {

/// Values of a pose, in this order: cap heights, cap heights, logarithm, logarithm, shear of x by
/// y.
enum PoseValue : int { kAlong, kAcross, kLogWidth, kLogHeight, kShear };
inline constexpr int kPoseValues = 5;
using PoseVector = Eigen::Matrix<double, kPoseValues, 1>;
using PoseMatrix = Eigen::Matrix<double, kPoseValues, kPoseValues>;

struct Pose {
  PoseVector value = PoseVector::Zero();           ///< As found less the reference's.
  PoseMatrix covariance = PoseMatrix::Identity();  ///< The element fit's own.
};

}  // namespace debossier::measure
