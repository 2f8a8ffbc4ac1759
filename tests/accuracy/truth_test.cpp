// The truth that the accuracy program holds the product against: closed forms.
#include "accuracy/truth.h"

#include <gtest/gtest.h>

#include <Eigen/Geometry>

#include "accuracy/tables.h"
#include "support/sample_letters.h"

namespace debossier::accuracy {
namespace {

/// Two upright bars, 0.2 wide and 1 high, 0.3 apart, and a mark 0.15 beyond, 0.4 high.
outline::Lettering Bars() {
  outline::Lettering die;
  die.lines = {{"wordmark", "II", 0, 1, 0}};
  const auto bar = [&](const char* id, outline::ElementKind kind, double x, double y0, double y1) {
    outline::Element e;
    e.id = id;
    e.kind = kind;
    e.character.assign(1, 'I');
    e.outline.contours = {outline::FromPolyline({{x, y0}, {x + 0.2, y0}, {x + 0.2, y1}, {x, y1}})};
    die.elements.push_back(e);
  };
  bar("wordmark.0", outline::ElementKind::kLetter, 0, 0, 1);
  bar("wordmark.1", outline::ElementKind::kLetter, 0.5, 0, 1);
  bar("mark", outline::ElementKind::kMark, 0.85, 0.6, 1);
  return die;
}

TEST(TrueValues, OfBars) {
  const auto die = Bars();
  EXPECT_NEAR(*TrueValue(die, "gap", {"wordmark.0", "wordmark.1"}, 0), 0.3, 1e-12);
  EXPECT_NEAR(*TrueValue(die, "letter width", {"wordmark.0"}, 0), 0.2, 1e-12);
  EXPECT_NEAR(*TrueValue(die, "mark gap", {"mark"}, 0), 0.15, 1e-12);
  EXPECT_NEAR(*TrueValue(die, "mark size", {"mark"}, 0), 0.4, 1e-12);
  // Every edge 0.01 further out: gaps lose 0.02, and the cap height that all is counted in is 1.02.
  EXPECT_NEAR(*TrueValue(die, "gap", {"wordmark.0", "wordmark.1"}, 0.01), 0.28 / 1.02, 1e-12);
  EXPECT_NEAR(*TrueValue(die, "letter height", {"wordmark.0"}, 0.01), 1, 1e-12);
  EXPECT_NEAR(*TrueValue(die, "mark size", {"mark"}, 0.01), 0.42 / 1.02, 1e-12);
  EXPECT_FALSE(TrueValue(die, "letterform", {"wordmark.0"}, 0));
}

TEST(OutlineDistance, LeavesPlaceSizeAndGainOut) {
  const auto die = Bars();
  EXPECT_LT(CompareOutlines(die, die).rms, 1e-6);
  outline::Lettering traced = die;
  outline::Affine moved;
  moved.linear = 1.03 * Eigen::Rotation2Dd(0.02).toRotationMatrix();
  moved.offset = {0.05, -0.02};
  for (auto& e : traced.elements) e.outline = outline::Transformed(e.outline, moved);
  EXPECT_LT(CompareOutlines(traced, die).rms, 1e-4);
  // One bar 0.02 lower than it should be: its ends are off, its sides are not.
  traced = die;
  outline::Affine lower;
  lower.offset = {0, -0.02};
  traced.elements[1].outline = outline::Transformed(die.elements[1].outline, lower);
  const double rms = CompareOutlines(traced, die).rms;
  EXPECT_GT(rms, 0.003);
  EXPECT_LT(rms, 0.02);
}

}  // namespace
}  // namespace debossier::accuracy
