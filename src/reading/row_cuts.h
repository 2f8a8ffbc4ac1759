// Cutting one row of lettering into the characters of a known text.
//
// Dynamic programming over cut positions (gaps between letters, and thin places inside touching
// ones) against rough expected sizes.
// Frame: the row's own pixels, upright, y down, slant already taken out.
// Not for: finding rows.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <vector>

namespace debossier::reading {

struct RowCut {
  int index = 0;  ///< Of the character in the text.
  std::string character;
  int left = 0;  ///< Columns [left, right) of the row.
  int right = 0;
  int top = 0;  ///< Ink rows [top, bottom).
  int bottom = 0;
};

struct RowCuts {
  std::vector<RowCut> cuts;  ///< One a character, spaces left out; the mark, if any, last.
  double cost = 1e9;         ///< Mean cost a character.
  double cap_height = 0;     ///< As assumed, pixels.
  double baseline = 0;       ///< Row of the baseline, pixels.
};

/// Cuts `row` (CV_8U mask) into the characters of `text` and, where `mark` is not empty, the mark.
RowCuts CutRow(const cv::Mat& row, const std::string& text, const std::string& mark);

}  // namespace debossier::reading
