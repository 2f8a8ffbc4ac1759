// The registered sign through photographs: seen whatever fills its inside, measured wherever it
// stands up to its reach.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "accuracy/against_itself.h"
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

TEST(Mark, AnotherKindIsToldByItsInside) {
  const DiePlan& plan = DiePlans()[0];
  if (!std::filesystem::exists(plan.font)) GTEST_SKIP() << "fonts-urw-base35 is not installed";
  int told = 0;
  for (std::uint64_t seed = 1; seed <= 6; ++seed) {
    auto options = simulate::DrawOptions(simulate::Level::kTypical, seed);
    ASSERT_TRUE(options);
    options->amounts.cap_height_px = 120;
    options->amounts.wear = 0.02;
    const auto same = AgainstItself(plan, {}, *options);
    ASSERT_TRUE(same) << same.error().ToString();
    EXPECT_NE(same->measured.mark.seen, "©") << seed;
    const auto other = AgainstItself(plan, {{"mark-other", "", 0}}, *options);
    ASSERT_TRUE(other) << other.error().ToString();
    EXPECT_NE(other->measured.mark.seen, "®") << seed;
    if (other->measured.mark.seen != "©") continue;
    ++told;
    EXPECT_TRUE(std::any_of(other->reasons.begin(), other->reasons.end(), [](const auto& r) {
      return r.text.find("looks like ©") != std::string::npos;
    })) << seed;
  }
  EXPECT_GE(told, 4);
}

}  // namespace
}  // namespace debossier::accuracy
