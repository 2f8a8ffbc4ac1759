// Photos seen straight on, against the plain drawing of what they were photographed from.
#include "report/straightened.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

namespace debossier::report {
namespace {

using outline::Box;
using outline::Point;

/// A chequer of squares of half a cap height, drawn through a placement with tilt and stretch.
cv::Mat Chequer(const fit::Placement& photo_from_stamp, const cv::Size& size) {
  cv::Mat bgr(size, CV_8UC3);
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      const Point stamp = photo_from_stamp.ToStamp(Point(x, y));
      const int odd = static_cast<int>(std::floor(2 * stamp.x()) + std::floor(2 * stamp.y())) & 1;
      bgr.at<cv::Vec3b>(y, x) = odd != 0 ? cv::Vec3b(200, 200, 200) : cv::Vec3b(40, 40, 40);
    }
  }
  return bgr;
}

fit::Placement Tilted(double px) {
  fit::Placement placement;
  const double c = std::cos(0.2), s = std::sin(0.2);
  placement.photo_from_stamp << px * c, px * s, 100, px * s, -px * c, 3.2 * px, 0.01, 0.02, 1;
  placement.stretch = {3, 3, {0.01, 0.004}, {0.005, -0.003}};
  return placement;
}

TEST(Straighten, SquaresAreSquares) {
  const fit::Placement placement = Tilted(70);
  const Box box{{0, 0}, {6, 2}};
  for (const double most : {200.0, 40.0, 15.0}) {
    const Straightened out = Straighten(Chequer(placement, {720, 420}), placement, box, most);
    ASSERT_FALSE(out.bgr.empty());
    const double px = out.picture_from_stamp.ScaleAt({3, 1});
    EXPECT_LE(px, most + 1e-9);
    EXPECT_NEAR(out.bgr.cols, 6 * px, 1);
    EXPECT_NEAR(out.bgr.rows, 2 * px, 1);
    // The middle of each square has its own colour and no other.
    for (double x = 0.25; x < 6; x += 0.5) {
      for (double y = 0.25; y < 2; y += 0.5) {
        const Point at = out.picture_from_stamp.ToPhoto({x, y});
        const auto seen = out.bgr.at<cv::Vec3b>(cvRound(at.y()), cvRound(at.x()))[0];
        const int odd = static_cast<int>(std::floor(2 * x) + std::floor(2 * y)) & 1;
        EXPECT_NEAR(seen, odd != 0 ? 200 : 40, 25) << x << " " << y << " at " << most;
      }
    }
  }
}

TEST(Straighten, EdgesStandWithinAPixel) {
  const fit::Placement placement = Tilted(90);
  const Straightened out =
      Straighten(Chequer(placement, {900, 540}), placement, {{0, 0}, {6, 2}}, 60);
  // Along a row through the squares' middles the colour changes at every half cap height.
  const double y = out.picture_from_stamp.ToPhoto({0, 0.75}).y();
  const auto at = [&](int x) { return int{out.bgr.at<cv::Vec3b>(cvRound(y), x)[0]}; };
  int edges = 0;
  for (int x = 1; x < out.bgr.cols; ++x) {
    if ((at(x - 1) < 120) == (at(x) < 120)) continue;
    const double stamp = out.picture_from_stamp.ToStamp({x - 0.5, y}).x();
    EXPECT_NEAR(stamp, std::round(2 * stamp) / 2, 1.0 / 60) << x;
    ++edges;
  }
  EXPECT_EQ(edges, 11);
}

TEST(Straighten, WhereThePhotoEndsIsWhite) {
  const fit::Placement placement = Tilted(70);
  const Straightened out =
      Straighten(Chequer(placement, {300, 420}), placement, {{0, 0}, {6, 2}}, 50);
  const Point outside = out.picture_from_stamp.ToPhoto({5.7, 1});
  EXPECT_EQ(out.bgr.at<cv::Vec3b>(cvRound(outside.y()), cvRound(outside.x())),
            cv::Vec3b(255, 255, 255));
}

TEST(Straighten, WhatCannotBeDrawnIsEmpty) {
  const cv::Mat photo(100, 100, CV_8UC3, cv::Scalar::all(9));
  fit::Placement placement;
  EXPECT_TRUE(Straighten(photo, placement, {}, 50).bgr.empty()) << "no box";
  for (const double value : {0.0, 1e12, std::nan("")}) {
    placement.photo_from_stamp.topRows<2>().setConstant(value);
    EXPECT_TRUE(Straighten(photo, placement, {{0, 0}, {6, 2}}, 50).bgr.empty()) << value;
  }
}

}  // namespace
}  // namespace debossier::report
