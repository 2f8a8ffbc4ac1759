// The middles of the card's dots, below a tenth of a pixel.
//
// Rays in the card's plane cross the edge of a dot; on each the edge lies where the share of dark
// along the ray puts it, which blur does not move. A shift of the circle is fitted to the rays, so
// that the middle is the circle's own and not that of its ellipse in the photo, which lies
// elsewhere under perspective (Heikkilä 2000). Growth of the ink moves all edges alike and
// no middle.
// Not for: finding dots; the homography given must be right to half a dot.
#pragma once

#include <opencv2/core.hpp>
#include <optional>

#include "card/plane_fit.h"

namespace debossier::card {

/// The photo place of the plane point `centre`, the middle of a dot of the card, from its edge in
/// `grey` (CV_8U). Empty where the dot is covered in part or leaves the photo.
std::optional<PlanePoint> RefineMark(const cv::Mat& grey, const Eigen::Matrix3d& photo_from_card,
                                     const Point& centre);

}  // namespace debossier::card
