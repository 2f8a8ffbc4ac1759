#include "fit/placement.h"

#include <gtest/gtest.h>

#include <cmath>

namespace debossier::fit {
namespace {

Placement Tilted() {
  Placement placement;
  placement.photo_from_stamp << 80, 3, 100, 2, -81, 300, 0.001, 0.0005, 1;
  placement.stretch = {5, 5, {0.01, -0.02}, {0.005, 0.01}};
  return placement;
}

// P2(t) = (3 t^2 - 1) / 2 and P3(t) = (5 t^3 - 3 t) / 2 at t = -1, 0, 1/2, 1: 1, -1/2, -1/8, 1 and
// -1, 0, -7/16, 1 (DLMF 18.5.T1).
TEST(SmoothStretch, IsTheLegendreSeries) {
  const SmoothStretch stretch{3, 2, {1, 0}, {0, 1}};
  EXPECT_EQ(stretch.Displacement(1), Point(1, -1));
  EXPECT_EQ(stretch.Displacement(3), Point(-0.5, 0));
  EXPECT_EQ(stretch.Displacement(4), Point(-0.125, -0.4375));
  EXPECT_EQ(stretch.Displacement(5), Point(1, 1));
  EXPECT_EQ(stretch.Displacement(3 + 2 * 1.2), stretch.Displacement(100))
      << "|t| is limited to 1.2";
}

TEST(Placement, MapsByTheHomographyOfTheStretchedPoint) {
  const Placement placement = Tilted();
  // t = 0 at x = 5: P2 = -1/2, P3 = 0, so the point (5, 1) moves to (4.995, 0.9975).
  const double x = 4.995, y = 0.9975, w = 0.001 * x + 0.0005 * y + 1;
  const Point photo = placement.ToPhoto({5, 1});
  EXPECT_NEAR(photo.x(), (80 * x + 3 * y + 100) / w, 1e-9);
  EXPECT_NEAR(photo.y(), (2 * x - 81 * y + 300) / w, 1e-9);
}

TEST(Placement, ToStampInvertsToPhoto) {
  const Placement placement = Tilted();
  for (double x = -3; x < 13; x += 0.37) {
    for (double y = -2; y < 2; y += 0.5) {
      const Point stamp(x, y);
      EXPECT_LT((placement.ToStamp(placement.ToPhoto(stamp)) - stamp).norm(), 1e-12);
    }
  }
}

TEST(Placement, JacobianAgreesWithFiniteDifferences) {
  const Placement placement = Tilted();
  const double h = 1e-6;
  for (double x = -2.93; x < 13; x += 0.61) {
    const Point at(x, 0.3);
    Eigen::Matrix2d expected;
    expected.col(0) =
        (placement.ToPhoto(at + Point(h, 0)) - placement.ToPhoto(at - Point(h, 0))) / (2 * h);
    expected.col(1) =
        (placement.ToPhoto(at + Point(0, h)) - placement.ToPhoto(at - Point(0, h))) / (2 * h);
    EXPECT_LT((placement.JacobianAt(at) - expected).norm(), 1e-5) << x;
  }
}

TEST(Placement, ScaleOfASimilarityIsItsFactor) {
  Placement placement;
  const double a = 0.4, s = 70;
  placement.photo_from_stamp << s * std::cos(a), s * std::sin(a), 5, s * std::sin(a),
      -s * std::cos(a), 9, 0, 0, 1;
  EXPECT_NEAR(placement.ScaleAt({3, 2}), 70, 1e-9);
}

}  // namespace
}  // namespace debossier::fit
