// One line of lettering as a body of its own: shift, turn, spread of its letters and their size.
//
// Robust weighted least squares over the line's element fits (Student weights), so that one moved
// letter does not carry the line. Spread and size apart tell tracking from stretch: a stretch
// widens letters and gaps alike, tracking only gaps. Frame: stamp (cap heights, y up), relative to
// the placement of the whole. Not for: lines with fewer than two letters found (spread is then
// unknown).
#pragma once

#include <Eigen/Core>
#include <vector>

#include "fit/fit_element.h"
#include "outline/lettering.h"

namespace debossier::measure {

enum LineUnknown : int { kLineShiftX, kLineShiftY, kLineTurn, kLineSpread, kLineSize };
inline constexpr int kLineUnknowns = 5;
using LineVector = Eigen::Matrix<double, kLineUnknowns, 1>;
using LineMatrix = Eigen::Matrix<double, kLineUnknowns, kLineUnknowns>;

struct LineFit {
  bool found = false;
  int letters = 0;                        ///< Letters that took part.
  LineVector value = LineVector::Zero();  ///< Spread and size are relative, minus 1.
  LineMatrix covariance = LineMatrix::Identity();
  outline::Point centre = outline::Point::Zero();
};

/// Fits line `line_idx` (letters only, no mark).
LineFit FitLine(const outline::Lettering& reference, const std::vector<fit::ElementFit>& elements,
                int line_idx);

}  // namespace debossier::measure
