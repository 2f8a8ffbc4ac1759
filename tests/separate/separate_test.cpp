#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "separate/contrast.h"
#include "separate/coverage.h"

namespace debossier::separate {
namespace {

// Otsu 1979; the histogram and its split are computed from the paper's definition.
TEST(Otsu, WorkedHistogram) {
  double between = 0;
  EXPECT_EQ(OtsuSplit({8, 7, 2, 6, 9, 4}, &between), 2);
  EXPECT_NEAR(between, 2.6287, 1e-4);
}

// OpenCV's own Otsu threshold on an 8-bit picture splits at the same place.
TEST(Otsu, AgreesWithOpenCv) {
  cv::Mat picture(64, 64, CV_8U);
  cv::RNG random(7);
  for (int i = 0; i < 64 * 64; ++i) {
    picture.at<unsigned char>(i / 64, i % 64) =
        cv::saturate_cast<unsigned char>(random.gaussian(12) + (i % 5 == 0 ? 180 : 70));
  }
  cv::Mat mask;
  const double theirs = cv::threshold(picture, mask, 0, 255, cv::THRESH_OTSU);
  std::vector<double> histogram(256, 0.0);
  for (int i = 0; i < 64 * 64; ++i) ++histogram[picture.at<unsigned char>(i / 64, i % 64)];
  double between = 0;
  EXPECT_EQ(OtsuSplit(histogram, &between), static_cast<int>(theirs));
}

/// A bar of known sub-pixel edges mixed linearly from two colours with an uneven light.
TEST(Coverage, HalfHeightStandsAtTheEdge) {
  const double left = 60.3;
  const double right = 99.7;
  cv::Mat bgr(120, 160, CV_8UC3);
  cv::Mat foil = cv::Mat::zeros(bgr.size(), CV_8U);
  cv::Mat ground = cv::Mat::zeros(bgr.size(), CV_8U);
  for (int y = 0; y < bgr.rows; ++y) {
    for (int x = 0; x < bgr.cols; ++x) {
      const double a = std::clamp(x + 0.5 - left, 0.0, 1.0) - std::clamp(x + 0.5 - right, 0.0, 1.0);
      const double light = 0.8 + 0.4 * x / bgr.cols;
      const cv::Vec3d colour =
          (cv::Vec3d(40, 60, 90) * (1 - a) + cv::Vec3d(90, 160, 190) * a) * light;
      bgr.at<cv::Vec3b>(y, x) = cv::Vec3b(colour);
      if (x > 63 && x < 97) foil.at<unsigned char>(y, x) = 255;
      if (x < 55 || x > 105) ground.at<unsigned char>(y, x) = 255;
    }
  }
  PixelGrid grid;
  CoverageOptions options;
  options.smoothing_px = 0;
  const auto coverage = GuidedCoverage(bgr, grid, foil, ground, 60, options);
  // Sum of coverage along a row is the bar's width.
  double width = 0;
  for (int x = 40; x < 120; ++x) width += coverage.alpha.at<float>(60, x);
  EXPECT_NEAR(width, right - left, 0.6);
  EXPECT_NEAR(coverage.alpha.at<float>(60, 80), 1, 0.05);
  EXPECT_NEAR(coverage.alpha.at<float>(60, 20), 0, 0.05);
}

TEST(PixelGrid, CentresMapToCentres) {
  cv::Mat bgr(100, 200, CV_8UC3, cv::Scalar::all(0));
  PixelGrid grid;
  const cv::Mat cut = CutOut(bgr, cv::Rect(20, 10, 100, 50), 2, 0, &grid);
  EXPECT_EQ(cut.cols, 50);
  const Eigen::Vector3d p = grid.PhotoFromMap() * Eigen::Vector3d(0, 0, 1);
  EXPECT_NEAR(p.x(), 20.5, 1e-12);  // two photo pixels, 20 and 21, make the first map pixel
  EXPECT_NEAR(p.y(), 10.5, 1e-12);
}

// The blind contrast of a photo that needs no reduction must not smooth the caller's own pixels:
// later stages measure on them.
TEST(Contrast, LeavesThePhotoAsItIs) {
  cv::Mat photo(120, 400, CV_8UC3);
  cv::RNG random(7);
  random.fill(photo, cv::RNG::UNIFORM, 0, 256);
  const cv::Mat before = photo.clone();
  SubtractGround(photo);
  EXPECT_EQ(cv::norm(photo, before, cv::NORM_INF), 0);
}

TEST(Coverage, SmoothedCutOutLeavesThePhotoAsItIs) {
  cv::Mat photo(60, 80, CV_8UC3);
  cv::RNG random(8);
  random.fill(photo, cv::RNG::UNIFORM, 0, 256);
  const cv::Mat before = photo.clone();
  PixelGrid grid;
  const cv::Mat cut = CutOut(photo, cv::Rect(0, 0, 80, 60), 1, SmoothingFor(100), &grid);
  EXPECT_EQ(cv::norm(photo, before, cv::NORM_INF), 0);
  EXPECT_GT(cv::norm(cut, photo, cv::NORM_INF), 0);
}

// 1 % of the cap height between a pixel and two; small letters bear less than a pixel.
TEST(Coverage, SmoothingFollowsTheLettering) {
  EXPECT_DOUBLE_EQ(SmoothingFor(150), 1.5);
  EXPECT_DOUBLE_EQ(SmoothingFor(60), 1.0);
  EXPECT_DOUBLE_EQ(SmoothingFor(30), 0.6);
  EXPECT_DOUBLE_EQ(SmoothingFor(500), 2.0);
}

}  // namespace
}  // namespace debossier::separate
