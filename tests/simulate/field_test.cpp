#include "simulate/field.h"

#include <gtest/gtest.h>

#include <cmath>

namespace debossier::simulate {
namespace {

TEST(Field, SmoothNoiseHasVarianceOneAndTheStatedLength) {
  const double cell = 6;
  const Field noise = SmoothNoise(cv::Size(1500, 1500), cell, Random(4));
  double squares = 0;
  double lagged = 0;
  double count = 0;
  const int lag = static_cast<int>(std::lround(1.15 * cell));
  for (int j = 0; j < noise.rows; ++j) {
    for (int i = 0; i + lag < noise.cols; ++i) {
      squares += noise(j, i) * noise(j, i);
      lagged += noise(j, i) * noise(j, i + lag);
      count += 1;
    }
  }
  EXPECT_NEAR(Mean(noise), 0, 0.02);
  EXPECT_NEAR(squares / count, 1, 0.04);
  EXPECT_NEAR(lagged / squares, std::exp(-1.0), 0.04);
}

// A blur's second moment is sigma squared, on the exact and on the coarse way.
TEST(Field, BlurSpreadsAPointBySigma) {
  for (const double sigma : {0.8, 2.0, 5.5, 7.0, 12.0, 21.0}) {
    Field point(401, 401, 0.0f);
    point(200, 200) = 1;
    const Field blurred = Blurred(point, sigma);
    double sum = 0;
    double moment = 0;
    for (int j = 0; j < point.rows; ++j) {
      for (int i = 0; i < point.cols; ++i) {
        sum += blurred(j, i);
        const double away = i - 200;
        moment += blurred(j, i) * away * away;
      }
    }
    EXPECT_NEAR(sum, 1, 0.01) << sigma;
    EXPECT_NEAR(std::sqrt(moment / sum) / sigma, 1, 0.05) << sigma;
  }
}

TEST(Field, QuantileLeavesTheShareBelow) {
  Field field = SmoothNoise(cv::Size(300, 200), 3, Random(2));
  const float limit = Quantile(field, 0.3);
  int below = 0;
  for (const float value : field) below += value < limit;
  EXPECT_NEAR(below / 60000.0, 0.3, 0.01);
}

TEST(Field, StandardiseMakesMeanZeroVarianceOne) {
  Field field = SmoothNoise(cv::Size(80, 60), 3, Random(2));
  Scale(field, 5, 3);
  Standardise(field);
  double squares = 0;
  for (const float value : field) squares += value * value;
  EXPECT_NEAR(Mean(field), 0, 1e-5);
  EXPECT_NEAR(squares / 4800, 1, 1e-4);
}

TEST(Field, CellularDistancesAreOrdered) {
  CellularOptions options;
  options.cell = 12;
  const Cellular cells = CellularNoise(cv::Size(120, 90), options, Random(8));
  for (int j = 0; j < 90; ++j) {
    for (int i = 0; i < 120; ++i) {
      ASSERT_GE(cells.nearest(j, i), 0);
      ASSERT_LE(cells.nearest(j, i), cells.second(j, i));
      ASSERT_LT(cells.nearest(j, i), 1.5f);
    }
  }
}

}  // namespace
}  // namespace debossier::simulate
