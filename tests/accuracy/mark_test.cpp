// The registered sign through photographs: seen whatever fills its inside, measured wherever it
// stands up to its reach.
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>

#include "accuracy/trial.h"

namespace debossier::accuracy {
namespace {

/// Photos of 80 and of 40 px a capital, of sets made from three photos.
TrialOptions Typical(double cap_px) {
  TrialOptions options;
  options.questioned = {simulate::Level::kTypical, cap_px, cap_px};
  options.set_sizes = {3};
  options.genuine = 2;
  options.departing = 1;
  options.only = {"mark-gap"};
  options.seed = 19;
  return options;
}

TEST(Mark, IsSeenAndItsDistanceMeasured) {
  const DiePlan& plan = DiePlans()[0];
  if (!std::filesystem::exists(plan.font)) GTEST_SKIP() << "fonts-urw-base35 is not installed";
  for (const double cap_px : {80.0, 40.0}) {
    const auto result = RunDie(0, Typical(cap_px));
    ASSERT_TRUE(result) << result.error().ToString();
    ASSERT_TRUE(result->sets[0].built) << result->sets[0].refusal;
    int moved = 0;
    for (const PhotoRow& photo : result->photos) {
      EXPECT_TRUE(photo.mark_found) << photo.change << " " << photo.amount << ", " << cap_px;
      if (photo.change != "mark-gap" || !photo.mark_gap_error) continue;
      ++moved;
      // The stated u is about .01; a bent panel adds as much to a mark that stands far off.
      EXPECT_LT(std::abs(*photo.mark_gap_error), 0.04) << photo.amount << ", " << cap_px;
      EXPECT_TRUE(photo.amount < 0.1 || photo.finding == "departs") << photo.amount;
    }
    EXPECT_EQ(moved, 6);
  }
}

}  // namespace
}  // namespace debossier::accuracy
