// Where the stamp lies in the photo: leather stretch, bent panel, tilt, turn and perspective.
//
// Frames: stamp (cap heights, y up) to photo (pixels, y down, pixel (0, 0) has its centre at
// (0, 0)). In between, leather (mm, y up, z out of the leather, origin at the stamp's middle).
// Not for: lens distortion, which is below a tenth of a pixel over one stamp.
#pragma once

#include <Eigen/Core>
#include <array>
#include <opencv2/core.hpp>

#include "outline/outline.h"
#include "simulate/levels.h"

namespace debossier::simulate {

using outline::Box;
using outline::Point;

/// Smooth displacement of a point at (x, y): Legendre polynomials P2 and P3 of
/// t = (x - centre) / half_length, with |t| cut to 1.2.
struct Stretch {
  double centre = 0;
  double half_length = 1;
  std::array<double, 2> along{};   ///< Amplitudes of P2, P3 in the displacement of x, cap heights.
  std::array<double, 2> across{};  ///< The same for y.
  Point Displacement(double x) const;
};

class Camera {
 public:
  /// Looks at `lettering` (its bounds) with `amounts.margin` of leather round it.
  Camera(const Box& lettering, const Amounts& amounts);

  Point ToPhoto(const Point& stamp) const;
  /// The inverse; points that the camera cannot see (beyond a bent panel's horizon) come out at
  /// the horizon.
  Point ToStamp(const Point& photo) const;
  /// Unit vector from the leather to the camera, leather frame.
  Eigen::Vector3d TowardsCamera(const Point& stamp) const;
  /// Slope of the bent panel in x and y at a point, leather frame.
  Point PanelSlope(const Point& stamp) const;
  /// Box in the stamp frame of all that the photo shows.
  Box Seen() const;

  /// At most kLongestSide a side, also where the picture would be larger.
  cv::Size photo_size() const { return photo_size_; }
  static constexpr int kLongestSide = 100'000;
  const Stretch& stretch() const { return stretch_; }
  /// Homography of the stamp after the smooth stretch: exact for a flat panel, the least-squares
  /// one over the lettering for a bent panel.
  const Eigen::Matrix3d& photo_from_stamp() const { return photo_from_stamp_; }
  /// Linear part of the leather's stretch, inside photo_from_stamp().
  const Eigen::Matrix2d& leather_from_stamp() const { return leather_from_stamp_; }

 private:
  Eigen::Vector3d OnPanel(const Point& leather) const;
  Point Project(const Eigen::Vector3d& on_panel) const;
  void PlacePrincipalPoint(const Box& lettering, double margin);
  Eigen::Matrix3d FlatHomography() const;
  Eigen::Matrix3d FittedHomography(const Box& lettering) const;

  Point centre_;  ///< Stamp frame.
  Eigen::Matrix2d leather_from_stamp_;
  Eigen::Matrix2d stamp_from_leather_;
  Point bend_axis_{1, 0};
  Point principal_ = Point::Zero();  ///< px.
  Eigen::Matrix3d camera_from_leather_;
  Eigen::Matrix3d photo_from_stamp_;
  Eigen::Matrix3d stamp_from_photo_;  ///< Before the smooth stretch; flat panels only.
  Stretch stretch_;
  double mm_ = 1;          ///< Millimetres a cap height.
  double bend_ = 0;        ///< 1/mm.
  double distance_ = 300;  ///< mm.
  double focal_ = 1;       ///< px.
  cv::Size photo_size_;
};

}  // namespace debossier::simulate
