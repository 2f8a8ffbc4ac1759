#include "fit/place_lettering.h"

#include <gtest/gtest.h>

#include <cmath>

#include "support/stamp_photo.h"

namespace debossier::fit {
namespace {

class Turned : public ::testing::TestWithParam<double> {};

// Truth by construction: every element's corners within 2 % of cap height at any turn.
TEST_P(Turned, FindsEveryElement) {
  const auto lettering = test::DrawnLettering({{"MARVELTON", 1.0}, {"MADE HERE", 0.45}});
  const cv::Size size(900, 900);
  const Eigen::Matrix3d truth = test::Placed(lettering, 70, GetParam(), size);
  const auto placed = PlaceLettering(test::DrawStamp(lettering, truth, size), lettering);
  ASSERT_TRUE(placed) << placed.error().ToString();
  for (std::size_t i = 0; i < lettering.elements.size(); ++i) {
    EXPECT_TRUE(placed->elements[i].found) << lettering.elements[i].id;
    const Point c = outline::Bounds(lettering.elements[i].outline).centre();
    const Eigen::Vector3d h = truth * Eigen::Vector3d(c.x(), c.y(), 1);
    const Point seen = placed->photo_from_stamp.ToPhoto(MovePoint(placed->elements[i], c));
    EXPECT_LT((seen - Point(h.x() / h.z(), h.y() / h.z())).norm(), 0.02 * 70)
        << lettering.elements[i].id;
  }
}

INSTANTIATE_TEST_SUITE_P(RightAnglesAndAround, Turned,
                         ::testing::Values(0, 20, -20, 90, 107, 180, 195, 270, 250));

// A letter moved by a known amount is measured where it is; its neighbours stay.
TEST(FitElement, MovedLetterIsMeasured) {
  const auto lettering = test::DrawnLettering({{"MARVELTON", 1.0}});
  auto moved = lettering;
  outline::Affine shift;
  shift.offset = outline::Point(0.05, 0);
  moved.elements[4].outline = outline::Transformed(moved.elements[4].outline, shift);
  const cv::Size size(1000, 260);
  const auto photo = test::DrawStamp(moved, test::Placed(lettering, 90, 3, size), size);
  const auto placed = PlaceLettering(photo, lettering);
  ASSERT_TRUE(placed) << placed.error().ToString();
  EXPECT_NEAR(placed->elements[4].value[kShiftX], 0.05, 0.004);
  EXPECT_NEAR(placed->elements[3].value[kShiftX], 0, 0.004);
  EXPECT_NEAR(placed->elements[5].value[kShiftX], 0, 0.004);
}

TEST(PlaceLettering, RefusesEmptyOtherAndSmall) {
  const auto lettering = test::DrawnLettering({{"MARVELTON", 1.0}});
  const cv::Mat empty(300, 400, CV_8UC3, cv::Scalar(90, 120, 150));
  const auto none = PlaceLettering(empty, lettering);
  ASSERT_FALSE(none);
  EXPECT_TRUE(none.error().code == ErrorCode::kNoStamp ||
              none.error().code == ErrorCode::kLetteringNotFound);
  EXPECT_FALSE(none.error().hint.empty());
  const auto other = test::DrawnLettering({{"QUISCH", 1.0}});
  const cv::Size size(900, 260);
  const auto wrong =
      PlaceLettering(test::DrawStamp(other, test::Placed(other, 90, 0, size), size), lettering);
  ASSERT_FALSE(wrong);
  EXPECT_TRUE(wrong.error().code == ErrorCode::kLetteringNotFound ||
              wrong.error().code == ErrorCode::kNoStamp);
  const auto spaced = test::DrawnLettering({{"M A R V E L T O N", 1.0}});
  const cv::Size little(280, 70);
  const auto small =
      PlaceLettering(test::DrawStamp(spaced, test::Placed(spaced, 13, 0, little), little), spaced);
  ASSERT_FALSE(small);
  EXPECT_EQ(small.error().code, ErrorCode::kPhotoTooSmall) << small.error().ToString();
}

}  // namespace
}  // namespace debossier::fit
