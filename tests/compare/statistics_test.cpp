// Statistics against published tables and closed forms.
#include "compare/statistics.h"

#include <gtest/gtest.h>

#include <cmath>

namespace debossier::compare {
namespace {

// Two-sided 95 % and 99 % prediction factors t * sqrt(1 + 1/n) (computed from the definition).
TEST(Student, PredictionFactors) {
  const auto factor = [](int n, double p) {
    return StudentQuantile(p, n - 1) * std::sqrt(1 + 1.0 / n);
  };
  EXPECT_NEAR(factor(2, 0.05), 15.562, 0.001);
  EXPECT_NEAR(factor(3, 0.05), 4.968, 0.001);
  EXPECT_NEAR(factor(6, 0.05), 2.777, 0.001);
  EXPECT_NEAR(factor(10, 0.05), 2.373, 0.001);
  EXPECT_NEAR(factor(3, 0.01), 11.460, 0.001);
  EXPECT_NEAR(factor(10, 0.01), 3.408, 0.001);
  EXPECT_NEAR(StudentTwoSidedP(StudentQuantile(0.003, 7), 7), 0.003, 1e-12);
}

// Smyth 2004: worked check of the estimator (computed from the paper's formulas).
TEST(Smyth, PriorFromVariances) {
  const auto prior = EstimatePrior({.02, .05, .1, .2, .4, 1, 2.5, .01}, 4);
  EXPECT_NEAR(prior.df, 1.358988, 1e-4);
  EXPECT_NEAR(prior.variance, 0.078013, 1e-5);
  const auto even = EstimatePrior({1, 2, 3, 4, 5, 6, 7, 8}, 4);
  EXPECT_TRUE(std::isinf(even.df));
  EXPECT_NEAR(even.variance, 4.932955, 1e-5);
  const auto shrunk = Shrink(2, 4, 8, 2);
  EXPECT_DOUBLE_EQ(shrunk.variance, 4);
  EXPECT_DOUBLE_EQ(shrunk.df, 6);
}

// Holm 1979.
TEST(Holm, AdjustsInOrder) {
  const auto p = HolmAdjusted({.01, .04, .03, .005});
  EXPECT_NEAR(p[0], .03, 1e-12);
  EXPECT_NEAR(p[1], .06, 1e-12);
  EXPECT_NEAR(p[2], .06, 1e-12);
  EXPECT_NEAR(p[3], .02, 1e-12);
}

// Holm 1979, with unequal weights: 0.01 at two thirds of the weight is 0.015 of all, and what is
// left is tested at its own level.
TEST(Holm, WeighsHypotheses) {
  const auto p = HolmAdjusted({.02, .01}, {1, 2});
  EXPECT_NEAR(p[1], .015, 1e-12);
  EXPECT_NEAR(p[0], .02, 1e-12);
}

// Table of the standard normal distribution.
TEST(Normal, ScoresOfProbabilities) {
  EXPECT_NEAR(NormalScore(1), 0, 1e-12);
  EXPECT_NEAR(NormalScore(.05), 1.959964, 1e-6);
  EXPECT_NEAR(NormalScore(.001), 3.290527, 1e-6);
}

// Liu and Xie 2020: equal p-values combine to themselves; small ones to their harmonic mean.
TEST(Cauchy, CombinesDependentTests) {
  EXPECT_NEAR(CauchyCombined({.03, .03}), .03, 1e-12);
  EXPECT_NEAR(CauchyCombined({1e-5, 2e-5}), 2 / (1e5 + 5e4), 1e-9);
  EXPECT_NEAR(CauchyCombined({1e-12, 1e-12}), 1e-12, 1e-15);
  EXPECT_GT(CauchyCombined({.5, .9}), .5);
}

// F(1, n) is the square of Student's t with n degrees of freedom.
TEST(Fisher, SquareOfStudent) {
  EXPECT_NEAR(FisherUpperP(2.5 * 2.5, 1, 9), StudentTwoSidedP(2.5, 9), 1e-12);
}

}  // namespace
}  // namespace debossier::compare
