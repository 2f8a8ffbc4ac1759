// Exact area coverage against areas known in closed form.
#include <gtest/gtest.h>

#include <numbers>
#include <opencv2/core.hpp>

#include "separate/raster.h"

namespace debossier::separate {
namespace {

using outline::Point;
using outline::Polyline;

TEST(AreaCoverage, RectangleByPixel) {
  cv::Mat coverage = cv::Mat::zeros(4, 5, CV_32F);
  // Pixel (x, y) covers x - 0.5 to x + 0.5.
  AddAreaCoverage({{{0.75, 0.9}, {3.0, 0.9}, {3.0, 2.5}, {0.75, 2.5}}}, coverage);
  EXPECT_NEAR(coverage.at<float>(1, 1), 0.75 * 0.6, 1e-6);
  EXPECT_NEAR(coverage.at<float>(1, 2), 0.6, 1e-6);
  EXPECT_NEAR(coverage.at<float>(2, 2), 1, 1e-6);
  EXPECT_NEAR(coverage.at<float>(2, 3), 0.5, 1e-6);
  EXPECT_NEAR(coverage.at<float>(3, 2), 0, 1e-6);
  EXPECT_NEAR(coverage.at<float>(2, 0), 0, 1e-6);
  EXPECT_NEAR(cv::sum(coverage)[0], 2.25 * 1.6, 1e-5);
}

TEST(AreaCoverage, TriangleCutsAPixel) {
  cv::Mat coverage = cv::Mat::zeros(3, 3, CV_32F);
  // The hypotenuse halves the middle pixel.
  AddAreaCoverage({{{0.5, 0.5}, {1.5, 0.5}, {0.5, 1.5}}}, coverage);
  EXPECT_NEAR(coverage.at<float>(1, 1), 0.5, 1e-6);
  EXPECT_NEAR(cv::sum(coverage)[0], 0.5, 1e-6);
}

TEST(AreaCoverage, RingEitherWayRoundAndOverTheBorder) {
  for (const double turn : {1.0, -1.0}) {
    cv::Mat coverage = cv::Mat::zeros(60, 60, CV_32F);
    const auto circle = [&](double radius, double way) {
      Polyline line;
      constexpr int kSides = 720;
      for (int k = 0; k < kSides; ++k) {
        const double a = way * turn * 2 * std::numbers::pi * k / kSides;
        line.push_back({59.5 + radius * std::cos(a), 30.2 + radius * std::sin(a)});
      }
      return line;
    };
    AddAreaCoverage({circle(20, 1), circle(12.5, -1)}, coverage);
    // The right half lies beyond the border of the map.
    const double area = std::numbers::pi * (20. * 20 - 12.5 * 12.5) / 2;
    EXPECT_NEAR(cv::sum(coverage)[0] / area, 1, 2e-4);
  }
}

}  // namespace
}  // namespace debossier::separate
