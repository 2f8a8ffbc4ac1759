#include "trace/sharpen.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "trace/contour.h"

namespace debossier::trace {
namespace {

using outline::Point;

constexpr double kLow = 20.3;
constexpr double kHigh = 80.7;

// A square under a Gaussian, in closed form: a product of differences of error functions.
cv::Mat BlurredSquare(double sigma) {
  const auto between = [sigma](double x) {
    return 0.5 * (std::erf((x - kLow) / (std::sqrt(2.0) * sigma)) -
                  std::erf((x - kHigh) / (std::sqrt(2.0) * sigma)));
  };
  cv::Mat field(101, 101, CV_32F);
  for (int y = 0; y < field.rows; ++y) {
    for (int x = 0; x < field.cols; ++x) {
      field.at<float>(y, x) = static_cast<float>(between(x) * between(y));
    }
  }
  return field;
}

/// Distance from the square's upper left corner to the nearest point of the contour.
double ShortOfCorner(const outline::Polyline& line) {
  double nearest = 1e9;
  for (const Point& p : line) nearest = std::min(nearest, (p - Point(kLow, kLow)).norm());
  return nearest;
}

/// Largest distance of the middle half of the upper side from its true place.
double SideError(const outline::Polyline& line) {
  double worst = 0;
  for (const Point& p : line) {
    if (p.x() > 35 && p.x() < 65 && p.y() < 50) worst = std::max(worst, std::abs(p.y() - kLow));
  }
  return worst;
}

TEST(EstimateBlur, FromStraightEdges) {
  for (const double sigma : {1.2, 2.0, 3.0}) {
    const cv::Mat field = BlurredSquare(sigma);
    EXPECT_NEAR(EstimateBlur(field, TraceContours(field, 0.5f)), sigma, 0.06 * sigma);
  }
}

// The level line passes a right angle's corner by more than half of the blur; taking the blur out
// brings it much closer and leaves the sides where they are.
TEST(Sharpen, BringsCornersBack) {
  constexpr double kSigma = 2;
  const cv::Mat field = BlurredSquare(kSigma);
  const auto traced = TraceContours(field, 0.5f);
  ASSERT_EQ(traced.size(), 1u);
  const auto sharp = Sharpen(field, traced);
  ASSERT_EQ(sharp.size(), 1u);
  EXPECT_GT(ShortOfCorner(traced[0]), 0.7 * kSigma);
  EXPECT_LT(ShortOfCorner(sharp[0]), 0.55 * ShortOfCorner(traced[0]));
  EXPECT_LT(SideError(sharp[0]), 0.08);
}

TEST(Sharpen, LeavesWhatHasNoStraightEdgeAlone) {
  const auto none = Sharpen(cv::Mat::zeros(20, 20, CV_32F), {});
  EXPECT_TRUE(none.empty());
}

}  // namespace
}  // namespace debossier::trace
