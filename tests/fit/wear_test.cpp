// What a photo's wear adds to the uncertainty of its letters.
#include "fit/wear.h"

#include <gtest/gtest.h>

#include <Eigen/Eigenvalues>
#include <cmath>
#include <random>

namespace debossier::fit {
namespace {

/// A letter of forty stretches, four samples each, whose stretches stray by `inward` and `outward`.
ElementFit Letter(double inward, double outward, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<> normal;
  ElementFit fit;
  fit.found = true;
  fit.covariance = 1e-6 * ElementMatrix::Identity();
  fit.leverage = ElementMatrix::Identity();
  fit.leverage(1, 1) = 1e-4;
  for (int stretch = 0; stretch < 40; ++stretch) {
    const double draw = normal(random);
    for (int k = 0; k < 4; ++k) {
      ModelEdge e;
      e.length = kChipLength / 4 + 1e-6;
      fit.edges.push_back(e);
      EdgeReading r;
      r.kind = EdgeReading::Kind::kEdge;
      r.displacement = draw < 0 ? inward * draw : outward * draw;
      fit.readings.push_back(r);
    }
  }
  return fit;
}

std::vector<ElementFit> Photo(double inward, double outward) {
  std::vector<ElementFit> letters;
  for (unsigned i = 0; i < 31; ++i) letters.push_back(Letter(inward, outward, i));
  return letters;
}

TEST(Wear, InwardOnlyIsWear) {
  // Half of the stretches are drawn inward with variance 1, over 40 - 6 that are free.
  EXPECT_NEAR(ChipVariance(Photo(0.02, 0)), 0.02 * 0.02 * 0.5 * 40 / 34, 0.5e-4);
  // Letters of another form stray both ways.
  // The standard error of the median is about 0.3e-4.
  EXPECT_LT(ChipVariance(Photo(0.02, 0.02)), 0.7e-4);
  EXPECT_EQ(ChipVariance(Photo(0, 0.02)), 0);
}

TEST(Wear, FewLettersSayNothing) {
  auto letters = Photo(0.02, 0);
  letters.resize(3);
  EXPECT_EQ(ChipVariance(letters), 0);
  CarryWear(letters);
  EXPECT_EQ(letters[0].covariance, ElementMatrix(1e-6 * ElementMatrix::Identity()));
}

TEST(Wear, GrowsWhatFewStretchesCarryAndNothingElse) {
  auto letters = Photo(0.02, 0);
  const double variance = ChipVariance(letters);
  ASSERT_GT(variance, 1e-4);
  CarryWear(letters);
  for (const auto& letter : letters) {
    EXPECT_NEAR(letter.covariance(0, 0), variance, 1e-9);
    // Carried by many stretches: the fit's own uncertainty is larger and stays.
    EXPECT_NEAR(letter.covariance(1, 1), 1e-6, 1e-12);
  }
}

TEST(Wear, CorrelatedCovarianceStaysPositiveAndNeverShrinks) {
  auto letters = Photo(0.02, 0);
  const ElementMatrix mix = ElementMatrix::Random();
  const ElementMatrix was = 1e-5 * (mix * mix.transpose()) + 1e-8 * ElementMatrix::Identity();
  letters[0].covariance = was;
  CarryWear(letters);
  const Eigen::SelfAdjointEigenSolver<ElementMatrix> grown(letters[0].covariance - was);
  EXPECT_GE(grown.eigenvalues().minCoeff(), -1e-12);
  const ElementMatrix wear = ChipVariance(Photo(0.02, 0)) * letters[0].leverage;
  const Eigen::SelfAdjointEigenSolver<ElementMatrix> covers(letters[0].covariance - wear);
  EXPECT_GE(covers.eigenvalues().minCoeff(), -1e-12);
}

}  // namespace
}  // namespace debossier::fit
