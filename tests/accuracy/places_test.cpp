// Where in a photo the lettering is measured: two stamps in one picture, and a crop.
#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "accuracy/dies.h"
#include "compare/compare_photo.h"
#include "simulate/simulate.h"
#include "support/simulated_set.h"

namespace debossier::accuracy {
namespace {

class Places : public testing::Test {
 protected:
  void SetUp() override {
    const DiePlan& plan = DiePlans()[0];
    std::vector<simulate::Departure> none;
    const auto die = MakeDie(plan, none);
    if (!die) GTEST_SKIP() << die.error().message;
    std::vector<image::Photo> verified;
    for (std::uint64_t seed = 1; seed <= 3; ++seed) {
      verified.push_back(PhotoOf(Picture(*die, seed).bgr));
    }
    set_ = test::SetOf(plan, verified);
    ASSERT_FALSE(set_.lettering.elements.empty());
    left_ = Picture(*die, 8);
    right_ = Picture(*die, 9);
  }

  static simulate::Simulated Picture(const outline::Lettering& die, std::uint64_t seed) {
    // One item: the same leather and foil.
    auto options = simulate::DrawOptions(simulate::Level::kClean, seed,
                                         {simulate::Leather::kSmooth, simulate::Finish::kGold, {}});
    options->leather_srgb = {40, 62, 98};
    options->amounts.cap_height_px = 80;
    auto simulated = simulate::Simulate(die, *options);
    EXPECT_TRUE(simulated);
    return std::move(*simulated);
  }

  static image::Photo PhotoOf(const cv::Mat& bgr) {
    simulate::Simulated whole;
    whole.bgr = bgr;
    whole.truth.amounts.jpeg_quality = 95;
    auto bytes = simulate::EncodeSimulated(whole);
    return *image::PhotoFromBytes(std::move(*bytes), "photo.jpg");
  }

  refset::RefSet set_;
  simulate::Simulated left_;
  simulate::Simulated right_;
};

TEST_F(Places, BothStampsOfOnePhotoAreReported) {
  const cv::Mat& a = left_.bgr;
  const cv::Mat& b = right_.bgr;
  cv::Mat both(a.rows + b.rows, std::max(a.cols, b.cols), CV_8UC3, cv::Scalar(40, 62, 98));
  a.copyTo(both(cv::Rect(0, 0, a.cols, a.rows)));
  b.copyTo(both(cv::Rect(0, a.rows, b.cols, b.rows)));
  const image::Photo photo = PhotoOf(both);
  const auto first = compare::ComparePhoto(photo, set_);
  ASSERT_TRUE(first) << first.error().ToString();
  ASSERT_EQ(first->advice.size(), 1u);
  const std::string& advice = first->advice[0];
  const auto at = advice.find("crop ");
  ASSERT_NE(at, std::string::npos) << advice;
  cv::Rect crop;
  ASSERT_EQ(std::sscanf(advice.c_str() + at, "crop %d,%d,%d,%d", &crop.x, &crop.y, &crop.width,
                        &crop.height),
            4)
      << advice;
  compare::CompareOptions options;
  options.place.crop = crop;
  const auto second = compare::ComparePhoto(photo, set_, options);
  ASSERT_TRUE(second) << second.error().ToString();
  const double y0 = first->measured.elements[0].quad_px[0].y();
  const double y1 = second->measured.elements[0].quad_px[0].y();
  EXPECT_GT(std::abs(y0 - y1), 0.5 * a.rows);
}

TEST_F(Places, ACropMeansOnlyHere) {
  const image::Photo photo = PhotoOf(left_.bgr);
  const auto whole = compare::ComparePhoto(photo, set_);
  ASSERT_TRUE(whole) << whole.error().ToString();
  ASSERT_TRUE(whole->measured.elements[7].found);
  compare::CompareOptions options;
  // Through the middle of the wordmark's last letter.
  const auto& quad = whole->measured.elements[7].quad_px;
  const int edge = static_cast<int>(0.5 * (quad[0].x() + quad[1].x()));
  options.place.crop = cv::Rect(0, 0, edge, photo.bgr.rows);
  const auto cropped = compare::ComparePhoto(photo, set_, options);
  ASSERT_TRUE(cropped) << cropped.error().ToString();
  EXPECT_TRUE(cropped->measured.elements[7].cut);
  EXPECT_FALSE(cropped->measured.elements[7].found);
  EXPECT_FALSE(cropped->measured.mark.found);
  EXPECT_TRUE(cropped->measured.elements[0].found);
  EXPECT_NE(cropped->summary.find("not measured: E, the mark ®."), std::string::npos)
      << cropped->summary;
  // In the photo's own frame.
  EXPECT_LT(
      (cropped->measured.elements[0].quad_px[0] - whole->measured.elements[0].quad_px[0]).norm(),
      1.0);
}

}  // namespace
}  // namespace debossier::accuracy
