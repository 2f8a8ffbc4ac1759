#include "image/blocks.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

namespace debossier::image {
namespace {

// OpenCV's area interpolation is the second opinion; it rounds halves to even, ours up.
TEST(Blocks, MeansAreThoseOfAreaInterpolation) {
  cv::Mat picture(61, 83, CV_8UC3);
  cv::RNG random(3);
  random.fill(picture, cv::RNG::UNIFORM, 0, 256);
  for (const int factor : {1, 2, 3, 7, 20}) {
    const cv::Mat means = BlockMeans(picture, factor);
    const cv::Rect whole(0, 0, means.cols * factor, means.rows * factor);
    ASSERT_EQ(means.cols, 83 / factor);
    ASSERT_EQ(means.rows, 61 / factor);
    cv::Mat theirs;
    cv::resize(picture(whole), theirs, means.size(), 0, 0, cv::INTER_AREA);
    EXPECT_LE(cv::norm(means, theirs, cv::NORM_INF), 1) << factor;
    EXPECT_NEAR(cv::mean(means)[1], cv::mean(picture(whole))[1], 0.2) << factor;
  }
}

TEST(Blocks, AnySetPixelSetsItsBlockAndNoOther) {
  for (const cv::Point at : {cv::Point(0, 0), cv::Point(32, 20), cv::Point(9, 4)}) {
    cv::Mat mask = cv::Mat::zeros(21, 33, CV_8U);
    mask.at<unsigned char>(at) = 1;
    const cv::Mat blocks = BlocksWithAny(mask, 5);
    ASSERT_EQ(blocks.size(), cv::Size(7, 5));
    EXPECT_EQ(cv::countNonZero(blocks), 1);
    EXPECT_EQ(blocks.at<unsigned char>(at.y / 5, at.x / 5), 255);
    const cv::Mat repeated = Repeated(blocks, 5, mask.size());
    ASSERT_EQ(repeated.size(), mask.size());
    EXPECT_EQ(repeated.at<unsigned char>(at), 255);
    const cv::Rect block =
        cv::Rect(at.x / 5 * 5, at.y / 5 * 5, 5, 5) & cv::Rect(0, 0, mask.cols, mask.rows);
    EXPECT_EQ(cv::countNonZero(repeated), block.area());
  }
}

}  // namespace
}  // namespace debossier::image
