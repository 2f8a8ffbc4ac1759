#include "simulate/random.h"

#include <gtest/gtest.h>

namespace debossier::simulate {
namespace {

// First values of splitmix64 from state 0, as its authors' reference program prints them (from
// memory).
TEST(Random, SplitMixAgreesWithReference) {
  std::uint64_t state = 0;
  EXPECT_EQ(SplitMix64(state), 0xe220a8397b1dcdafull);
  EXPECT_EQ(SplitMix64(state), 0x6e789e6aa1b965f4ull);
  EXPECT_EQ(SplitMix64(state), 0x06c45d188009454full);
}

TEST(Random, NormalsHaveMeanZeroAndVarianceOne) {
  Random random(9);
  constexpr int kCount = 200000;
  double sum = 0;
  double squares = 0;
  double field_sum = 0;
  double field_squares = 0;
  for (int k = 0; k < kCount; ++k) {
    const double normal = random.Normal();
    const double field = random.FieldNormal();
    sum += normal;
    squares += normal * normal;
    field_sum += field;
    field_squares += field * field;
  }
  // Four standard deviations: 4 / sqrt(n) for the mean, 4 sqrt(2 / n) for the variance.
  EXPECT_NEAR(sum / kCount, 0, 0.009);
  EXPECT_NEAR(squares / kCount, 1, 0.0127);
  EXPECT_NEAR(field_sum / kCount, 0, 0.009);
  EXPECT_NEAR(field_squares / kCount, 1, 0.0127);
}

TEST(Random, ForksDoNotDependOnWhatWasDrawn) {
  Random one(5);
  const Random two(5);
  for (int k = 0; k < 10; ++k) one.Next();
  EXPECT_EQ(one.Fork(3).Next(), two.Fork(3).Next());
  EXPECT_NE(two.Fork(3).Next(), two.Fork(4).Next());
}

TEST(Random, BelowStaysBelowAndReachesAll) {
  Random random(1);
  int seen[5] = {};
  for (int k = 0; k < 1000; ++k) {
    const int drawn = random.Below(5);
    ASSERT_GE(drawn, 0);
    ASSERT_LT(drawn, 5);
    ++seen[drawn];
  }
  for (const int count : seen) EXPECT_GT(count, 130);
}

}  // namespace
}  // namespace debossier::simulate
