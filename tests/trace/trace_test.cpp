#include <gtest/gtest.h>

#include <cmath>

#include "outline/outline.h"
#include "trace/bezier_fit.h"
#include "trace/contour.h"

namespace debossier::trace {
namespace {

constexpr double kPi = 3.14159265358979;

cv::Mat Disc(double cx, double cy, double radius) {
  cv::Mat field(100, 120, CV_32F);
  for (int y = 0; y < field.rows; ++y) {
    for (int x = 0; x < field.cols; ++x) {
      field.at<float>(y, x) =
          static_cast<float>(std::clamp(0.5 + (radius - std::hypot(x - cx, y - cy)) / 4, 0.0, 1.0));
    }
  }
  return field;
}

// A disc: every contour point lies on the circle, below a tenth of a pixel.
TEST(Contour, CircleBelowAPixel) {
  const auto lines = TraceContours(Disc(57.3, 48.6, 30.2), 0.5f);
  ASSERT_EQ(lines.size(), 1u);
  for (const auto& p : lines[0]) EXPECT_NEAR(std::hypot(p.x() - 57.3, p.y() - 48.6), 30.2, 0.02);
}

TEST(Contour, RingHasTwoAndClosesAtTheBorder) {
  const cv::Mat ring = Disc(57, 48, 30) - Disc(57, 48, 15);
  EXPECT_EQ(TraceContours(ring, 0.5f).size(), 2u);
  EXPECT_EQ(TraceContours(Disc(2, 50, 20), 0.5f).size(), 1u);
  EXPECT_TRUE(TraceContours(cv::Mat::zeros(10, 10, CV_32F), 0.5f).empty());
}

// Area of a disc pi r^2 within the tolerance times the outline, and few cubics.
TEST(BezierFit, CircleInFewCubics) {
  outline::Polyline circle;
  for (int i = 0; i < 400; ++i) {
    const double a = 2 * kPi * i / 400;
    circle.push_back({0.5 * std::cos(a), 0.5 * std::sin(a)});
  }
  const auto contour = FitContour(circle);
  EXPECT_LE(contour.segments.size(), 16u);
  EXPECT_NEAR(outline::SignedArea(contour), kPi * 0.25, 0.003 * kPi);
  EXPECT_TRUE(contour.segments.back().end.isApprox(contour.start, 1e-9));
}

// A square keeps four corners and straight sides.
TEST(BezierFit, SquareKeepsItsCorners) {
  outline::Polyline square;
  for (int i = 0; i < 50; ++i) square.push_back({i / 50.0, 0});
  for (int i = 0; i < 50; ++i) square.push_back({1, i / 50.0});
  for (int i = 0; i < 50; ++i) square.push_back({1 - i / 50.0, 1});
  for (int i = 0; i < 50; ++i) square.push_back({0, 1 - i / 50.0});
  const auto contour = FitContour(square);
  EXPECT_EQ(contour.segments.size(), 4u);
  EXPECT_NEAR(outline::SignedArea(contour), 1, 1e-9);
}

}  // namespace
}  // namespace debossier::trace
