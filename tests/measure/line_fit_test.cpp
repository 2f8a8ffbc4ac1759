// A line's shift, turn, spread and size, from element fits that follow them exactly.
#include "measure/line_fit.h"

#include <gtest/gtest.h>

#include <cmath>

namespace debossier::measure {
namespace {

using outline::Point;

/// Eight letters a cap height apart.
outline::Lettering EightLetters() {
  outline::Lettering lettering;
  lettering.lines.push_back({"wordmark", "IIIIIIII", 0, 1, 0});
  for (int i = 0; i < 8; ++i) {
    outline::Element e;
    e.id = "wordmark." + std::to_string(i);
    e.character = "I";
    e.outline.contours = {outline::Rectangle({{1.0 * i, 0}, {i + 0.2, 1}})};
    lettering.elements.push_back(e);
  }
  return lettering;
}

/// Where the letters are that a line moves, turns, spreads and enlarges (small angles).
std::vector<fit::ElementFit> Moved(const outline::Lettering& lettering, const LineVector& line) {
  outline::Box box;
  for (const auto& e : lettering.elements) box.Add(outline::Bounds(e.outline));
  std::vector<fit::ElementFit> fits;
  for (const auto& e : lettering.elements) {
    fit::ElementFit f;
    f.found = true;
    f.centre = outline::Bounds(e.outline).centre();
    const Point d = f.centre - box.centre();
    f.value[0] = line[kLineShiftX] - line[kLineTurn] * d.y() + line[kLineSpread] * d.x();
    f.value[1] = line[kLineShiftY] + line[kLineTurn] * d.x() + line[kLineSize] * d.y();
    f.value[2] = f.value[3] = line[kLineSize];
    f.covariance.diagonal().setConstant(1e-6);
    fits.push_back(f);
  }
  return fits;
}

LineVector Truth() {
  LineVector truth;
  truth << 0.02, -0.01, 0.004, 0.015, 0.03;
  return truth;
}

TEST(LineFit, GivesBackAnExactLine) {
  const auto lettering = EightLetters();
  const LineFit line = FitLine(lettering, Moved(lettering, Truth()), 0);
  ASSERT_TRUE(line.found);
  EXPECT_EQ(line.letters, 8);
  for (int k = 0; k < kLineUnknowns; ++k) {
    EXPECT_NEAR(line.value[k], Truth()[k], 2e-4) << k;  // the priors pull by less
    EXPECT_GT(line.covariance(k, k), 0) << k;
  }
}

// The mean of n letters that stray by s has u = s / sqrt(n), more by the Student weights' share.
TEST(LineFit, UncertaintyOfTheMeanFallsWithTheRootOfTheLetters) {
  const auto lettering = EightLetters();
  const LineFit line = FitLine(lettering, Moved(lettering, LineVector::Zero()), 0);
  const double weight = (3.0 + 4) / 3;
  const double expected = std::sqrt((1e-6 + 0.004 * 0.004) / (8 * weight));
  EXPECT_NEAR(std::sqrt(line.covariance(kLineShiftX, kLineShiftX)), expected, 0.02 * expected);
}

TEST(LineFit, OneMovedLetterDoesNotCarryTheLine) {
  const auto lettering = EightLetters();
  auto fits = Moved(lettering, Truth());
  fits[2].value[0] += 0.2;
  const LineFit line = FitLine(lettering, fits, 0);
  EXPECT_NEAR(line.value[kLineShiftX], Truth()[kLineShiftX], 0.002);
  EXPECT_NEAR(line.value[kLineSpread], Truth()[kLineSpread], 0.001);
}

TEST(LineFit, LettersThatWereNotFoundTakeNoPart) {
  const auto lettering = EightLetters();
  auto fits = Moved(lettering, Truth());
  fits[5].found = false;
  fits[5].value.setConstant(9);
  EXPECT_EQ(FitLine(lettering, fits, 0).letters, 7);
  for (auto& f : fits) f.found = false;
  EXPECT_FALSE(FitLine(lettering, fits, 0).found);
}

}  // namespace
}  // namespace debossier::measure
