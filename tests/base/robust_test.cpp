// Robust statistics against values of the literature and of the normal distribution.
#include "base/robust.h"

#include <gtest/gtest.h>

#include <boost/math/distributions/normal.hpp>

namespace debossier {
namespace {

TEST(Median, IsTheMeanOfTheTwoInTheMiddle) {
  EXPECT_EQ(Median({}), 0);
  EXPECT_EQ(Median({7}), 7);
  EXPECT_EQ(Median({3, 1, 2}), 2);
  EXPECT_EQ(Median({4, 1, 3, 2}), 2.5);
  EXPECT_EQ(UpperMedian({4, 1, 3, 2}), 3);
  EXPECT_EQ(UpperMedian({3, 1, 2}), 2);
  EXPECT_EQ(UpperMedian({}), 0);
}

TEST(Sigma, OfANormalIsItsDeviation) {
  const boost::math::normal normal(5, 2);
  std::vector<double> values;
  for (int i = 0; i < 2001; ++i) {
    values.push_back(boost::math::quantile(normal, (i + 0.5) / 2001));
  }
  values.push_back(1e9);  // one stray does not count
  const RobustSpread spread = SpreadOf(values);
  EXPECT_NEAR(spread.middle, 5, 0.01);
  EXPECT_NEAR(spread.sigma, 2, 0.01);
}

TEST(Weights, LetGoOfStrays) {
  EXPECT_EQ(BiweightOf(0), 1);
  EXPECT_NEAR(BiweightOf(4.685 / 2), 0.5625, 1e-12);  // (1 - 1/4)^2
  EXPECT_EQ(BiweightOf(4.685), 0);
  EXPECT_EQ(BiweightOf(-50), 0);
}

TEST(Weights, OfAStudentAverageOneWhereTheModelHolds) {
  // E[(nu + n) / (nu + D^2)] = 1 for D^2 / n ~ F(n, nu); here n = 1: quantiles of a t by its cosine
  // form for 1 degree of freedom (Cauchy).
  double sum = 0;
  constexpr int kCount = 20000;
  for (int i = 0; i < kCount; ++i) {
    const double x = std::tan(3.14159265358979 * ((i + 0.5) / kCount - 0.5));
    sum += StudentWeightOf(x * x, 1, 1);
  }
  EXPECT_NEAR(sum / kCount, 1, 1e-3);
  EXPECT_GT(StudentWeightOf(0, 5, 3), StudentWeightOf(10, 5, 3));
}

}  // namespace
}  // namespace debossier
