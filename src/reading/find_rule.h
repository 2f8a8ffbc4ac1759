// The rule of a frame, found in a mask before anything is read: an ellipse or a rectangle of which
// enough can be seen, however it is broken up and whatever it touches.
//
// Random samples of points on thin strokes propose rules, the share of each rule that lies on such
// a stroke with ground on both sides decides (RANSAC, Fischler and Bolles 1981).
// Frame: pixels of an upright mask, y down. Not for: telling whether there is a frame; measure
// does that on coverage.
#pragma once

#include <opencv2/core.hpp>
#include <optional>

#include "outline/lettering.h"

namespace debossier::reading {

struct Rule {
  outline::Frame frame;  ///< Pixels; `line_idx` is not set.
  double seen = 0;       ///< Share of its length.
};

/// The best rule of `kind` in `mask` (CV_8U, lettering and rule not 0). The same mask gives the
/// same rule.
std::optional<Rule> FindRule(const cv::Mat& mask, outline::FrameKind kind);

/// Pixels of `size` on the rule, with `margin` px on both sides (CV_8U, 255).
cv::Mat RulePixels(const outline::Frame& frame, double margin, const cv::Size& size);

}  // namespace debossier::reading
