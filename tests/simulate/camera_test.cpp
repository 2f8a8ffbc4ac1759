#include "simulate/camera.h"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cmath>

#include "simulate/plain_die.h"

namespace debossier::simulate {
namespace {

const Box kLettering{Point(0, -1.2), Point(8, 1)};

Amounts Tilted() {
  Amounts a = PlainOptions().amounts;
  a.distance_mm = 220;
  a.turn_deg = 33;
  a.tilt_deg = 14;
  a.tilt_axis_deg = 70;
  a.stretch_x = 0.004;
  a.shear = 0.002;
  a.along2 = 0.005;
  a.across3 = -0.004;
  return a;
}

TEST(Camera, PhotoToStampUndoesStampToPhoto) {
  Amounts a = Tilted();
  for (const double bend : {0.0, 0.004, -0.003}) {
    a.bend_per_mm = bend;
    a.bend_axis_deg = 25;
    const Camera camera(kLettering, a);
    for (double x = -0.5; x <= 8.5; x += 0.75) {
      for (double y = -1.6; y <= 1.4; y += 0.5) {
        const Point back = camera.ToStamp(camera.ToPhoto({x, y}));
        EXPECT_NEAR((back - Point(x, y)).norm(), 0, 1e-5) << x << ' ' << y << " bend " << bend;
      }
    }
  }
}

TEST(Camera, HomographyIsExactOnFlatLeather) {
  const Camera camera(kLettering, Tilted());
  for (double x = 0; x <= 8; x += 1) {
    const Point stamp(x, 0.4);
    const Point moved = stamp + camera.stretch().Displacement(x);
    const Point photo = (camera.photo_from_stamp() * moved.homogeneous()).hnormalized();
    EXPECT_NEAR((photo - camera.ToPhoto(stamp)).norm(), 0, 1e-8);
  }
}

TEST(Camera, HomographyOfGentlyBentPanelStaysClose) {
  Amounts a = Tilted();
  a.bend_per_mm = 0.001;
  const Camera camera(kLettering, a);
  for (double x = 0; x <= 8; x += 1) {
    const Point moved = Point(x, 0) + camera.stretch().Displacement(x);
    const Point photo = (camera.photo_from_stamp() * moved.homogeneous()).hnormalized();
    EXPECT_LT((photo - camera.ToPhoto({x, 0})).norm(), 2.0);
  }
}

TEST(Camera, CapHeightIsTheScaleAtTheMiddle) {
  Amounts a = Tilted();
  a.stretch_x = a.shear = a.along2 = a.across3 = 0;
  const Camera camera(kLettering, a);
  const Point middle = kLettering.centre();
  const double h = 1e-4;
  Eigen::Matrix2d jacobian;
  jacobian.col(0) = (camera.ToPhoto(middle + Point(h, 0)) - camera.ToPhoto(middle)) / h;
  jacobian.col(1) = (camera.ToPhoto(middle + Point(0, h)) - camera.ToPhoto(middle)) / h;
  EXPECT_NEAR(std::sqrt(std::abs(jacobian.determinant())), a.cap_height_px, 0.01);
  EXPECT_LT(jacobian.determinant(), 0) << "stamp y is up, photo y is down";
}

TEST(Camera, TurnIsCounterClockwiseInThePicture) {
  Amounts a = PlainOptions().amounts;
  a.turn_deg = 90;
  const Camera camera(kLettering, a);
  const Point along = camera.ToPhoto({5, 0}) - camera.ToPhoto({3, 0});
  EXPECT_NEAR(along.x(), 0, 1e-6);
  EXPECT_LT(along.y(), 0) << "the line of text runs up the picture";
}

// Legendre polynomials at 1 are 1; P2 at 0 is -1/2 and P3 at 0 is 0.
TEST(Camera, StretchIsLegendre) {
  const Stretch stretch{2, 3, {0.01, 0.02}, {0.03, 0.04}};
  EXPECT_NEAR(stretch.Displacement(5).x(), 0.03, 1e-12);
  EXPECT_NEAR(stretch.Displacement(5).y(), 0.07, 1e-12);
  EXPECT_NEAR(stretch.Displacement(2).x(), -0.005, 1e-12);
  EXPECT_NEAR(stretch.Displacement(-1).x(), 0.01 - 0.02, 1e-12);
}

}  // namespace
}  // namespace debossier::simulate
