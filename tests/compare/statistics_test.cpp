// Statistics against published tables and closed forms.
#include "compare/statistics.h"

#include <gtest/gtest.h>

#include <cmath>

namespace debossier::compare {
namespace {

// Two-sided 95 % and 99 % prediction factors t * sqrt(1 + 1/n) (computed from the definition).
TEST(Student, PredictionFactors) {
  const auto p_of = [](double factor, int n) {
    return StudentTwoSidedP(factor / std::sqrt(1 + 1.0 / n), n - 1);
  };
  EXPECT_NEAR(p_of(15.562, 2), 0.05, 1e-5);
  EXPECT_NEAR(p_of(4.968, 3), 0.05, 1e-4);
  EXPECT_NEAR(p_of(2.777, 6), 0.05, 1e-4);
  EXPECT_NEAR(p_of(2.373, 10), 0.05, 1e-4);
  EXPECT_NEAR(p_of(11.460, 3), 0.01, 1e-5);
  EXPECT_NEAR(p_of(3.408, 10), 0.01, 1e-5);
}

// Smyth 2004, the posterior variance.
TEST(Smyth, WeighsVariancesByTheirDegrees) {
  const auto shrunk = Shrink(2, 4, 8, 2);
  EXPECT_DOUBLE_EQ(shrunk.variance, 4);
  EXPECT_DOUBLE_EQ(shrunk.df, 6);
}

// Table of the standard normal distribution.
TEST(Normal, ScoresOfProbabilities) {
  EXPECT_NEAR(NormalScore(1), 0, 1e-12);
  EXPECT_NEAR(NormalScore(.05), 1.959964, 1e-6);
  EXPECT_NEAR(NormalScore(.001), 3.290527, 1e-6);
}

// Table of the standard normal distribution, upper tail.
TEST(Normal, Tails) {
  EXPECT_NEAR(NormalUpperP(1.959964), .025, 1e-8);
  EXPECT_NEAR(NormalUpperQuantile(.001), 3.090232, 1e-6);
}

TEST(Normal, DrawsHaveItsMoments) {
  const Eigen::MatrixXd draws = NormalDraws(200, 200);
  EXPECT_NEAR(draws.mean(), 0, 4.0 / 200);
  EXPECT_NEAR(draws.array().square().mean(), 1, 4 * std::sqrt(2.0) / 200);
  EXPECT_NEAR(draws.array().pow(4).mean(), 3, 4 * std::sqrt(96.0) / 200);
  EXPECT_EQ(draws, NormalDraws(200, 200));
}

// Wilson, J. Am. Stat. Assoc. 22 (1927) 209: for no hit the upper end is z^2 / (n + z^2).
TEST(Wilson, Intervals) {
  const double z2 = 1.959963984540054 * 1.959963984540054;
  EXPECT_NEAR(WilsonInterval(0, 10).low, 0, 1e-12);
  EXPECT_NEAR(WilsonInterval(0, 10).high, z2 / (10 + z2), 1e-12);
  EXPECT_NEAR(WilsonInterval(10, 10).low, 10 / (10 + z2), 1e-12);
  const Interval half = WilsonInterval(8, 16);
  EXPECT_NEAR(half.low + half.high, 1, 1e-12);
}

}  // namespace
}  // namespace debossier::compare
