// A photo that does not show the mark: under glare nothing is said of it, and only where the set
// calls it essential does the photo not tell; bare leather in its place is told, as foil wears off.
#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "accuracy/dies.h"
#include "compare/compare_photo.h"
#include "simulate/simulate.h"
#include "support/simulated_set.h"

namespace debossier::accuracy {
namespace {

enum class Mark { kShown, kUnderGlare, kBareLeather };

image::Photo Shot(const outline::Lettering& die, std::uint64_t seed, Mark mark) {
  auto options = simulate::DrawOptions(simulate::Level::kClean, seed);
  options->amounts.cap_height_px = 100;
  auto simulated = simulate::Simulate(die, *options);
  if (mark != Mark::kShown) {
    for (const auto& e : simulated->truth.elements) {
      if (e.id != "mark") continue;
      cv::Point2d middle;
      for (const auto& p : e.quad_px) middle += 0.25 * cv::Point2d(p.x(), p.y());
      const cv::Rect hidden(static_cast<int>(middle.x) - 26, static_cast<int>(middle.y) - 26, 52,
                            52);
      const cv::Rect bare(hidden.x, 4, 52, 52);
      // Leather from above the wordmark, over the mark.
      const cv::Mat patch = simulated->bgr(bare).clone();
      if (mark == Mark::kBareLeather) patch.copyTo(simulated->bgr(hidden));
      if (mark == Mark::kUnderGlare) simulated->bgr(hidden).setTo(cv::Scalar::all(250));
    }
  }
  auto bytes = simulate::EncodeSimulated(*simulated);
  return *image::PhotoFromBytes(std::move(*bytes), "shot.jpg");
}

TEST(UnreadMark, OnlyAnEssentialOneDecides) {
  const DiePlan& plan = DiePlans()[0];
  std::vector<simulate::Departure> none;
  const auto die = MakeDie(plan, none);
  if (!die) GTEST_SKIP() << die.error().message;
  std::vector<image::Photo> verified;
  for (std::uint64_t seed = 1; seed <= 3; ++seed)
    verified.push_back(Shot(*die, seed, Mark::kShown));
  refset::RefSet set = test::SetOf(plan, verified);
  ASSERT_FALSE(set.lettering.elements.empty());
  const image::Photo questioned = Shot(*die, 9, Mark::kUnderGlare);
  const auto silent = compare::ComparePhoto(questioned, set);
  ASSERT_TRUE(silent) << silent.error().ToString();
  EXPECT_EQ(silent->finding, compare::Finding::kNoDepartureFound) << silent->summary;
  EXPECT_NE(silent->summary.find("Could not be read, so nothing is said of it: the mark ®."),
            std::string::npos)
      << silent->summary;
  set.asks.essential = {"mark"};
  const auto asked = compare::ComparePhoto(questioned, set);
  ASSERT_TRUE(asked) << asked.error().ToString();
  EXPECT_EQ(asked->finding, compare::Finding::kCannotTell) << asked->summary;
  set.asks.essential = {};
  const auto bare = compare::ComparePhoto(Shot(*die, 9, Mark::kBareLeather), set);
  ASSERT_TRUE(bare) << bare.error().ToString();
  EXPECT_EQ(bare->finding, compare::Finding::kNoDepartureFound) << bare->summary;
  EXPECT_NE(bare->summary.find("No foil is seen in the place of the mark"), std::string::npos)
      << bare->summary;
}

}  // namespace
}  // namespace debossier::accuracy
