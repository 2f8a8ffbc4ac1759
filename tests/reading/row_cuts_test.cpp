#include "reading/row_cuts.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "reading/expected_size.h"

namespace debossier::reading {
namespace {

// Counters of usual capitals; common practice, no source.
TEST(Counters, OfCapitals) {
  EXPECT_EQ(CountersOf("B"), 2);
  for (const char* one : {"A", "D", "O", "P", "R"}) EXPECT_EQ(CountersOf(one), 1) << one;
  for (const char* none : {"C", "E", "I", "L", "N", "S", "T", "V"}) {
    EXPECT_EQ(CountersOf(none), 0) << none;
  }
  EXPECT_FALSE(CountersOf("Q").has_value());
  EXPECT_FALSE(CountersOf("É").has_value());
}

/// "IOEI" with an O as wide as tall, and the E joined to the I after it by a bar of foil.
cv::Mat WideRound() {
  cv::Mat row = cv::Mat::zeros(100, 320, CV_8U);
  const cv::Scalar on(255);
  cv::rectangle(row, {10, 0}, {21, 99}, on, cv::FILLED);
  cv::ellipse(row, {88, 49}, {44, 44}, 0, 0, 360, on, 12);
  cv::rectangle(row, {155, 0}, {167, 99}, on, cv::FILLED);
  for (const int y : {0, 44, 88}) cv::rectangle(row, {155, y}, {210, y + 11}, on, cv::FILLED);
  cv::rectangle(row, {225, 0}, {236, 99}, on, cv::FILLED);
  cv::rectangle(row, {205, 92}, {230, 99}, on, cv::FILLED);
  return row;
}

TEST(CutRow, KeepsARoundLetterWhole) {
  const RowCuts cuts = CutRow(WideRound(), "IOEI", "");
  ASSERT_EQ(cuts.cuts.size(), 4u);
  EXPECT_NEAR(cuts.cuts[1].left, 38, 3);
  EXPECT_NEAR(cuts.cuts[1].right, 139, 3);
  EXPECT_NEAR(cuts.cuts[2].left, 155, 3);
  EXPECT_GT(cuts.cuts[3].right, 230);
}

// The same drawn in outline only: counters say nothing there, sizes still do.
TEST(CutRow, ReadsOutlinedLetters) {
  cv::Mat eroded;
  const cv::Mat solid = WideRound();
  cv::erode(solid, eroded, cv::getStructuringElement(cv::MORPH_RECT, {5, 5}));
  const RowCuts cuts = CutRow(solid & ~eroded, "IOEI", "");
  ASSERT_EQ(cuts.cuts.size(), 4u);
  EXPECT_NEAR(cuts.cuts[1].left, 38, 3);
  EXPECT_NEAR(cuts.cuts[1].right, 139, 3);
}

}  // namespace
}  // namespace debossier::reading
