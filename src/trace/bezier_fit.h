// Cubic Bézier contours through dense closed polylines.
//
// Corners are found first (turn over a short length); between corners, cubics are fitted by least
// squares with end tangents and re-parametrised by Newton steps, split at the largest error
// (Schneider, "An algorithm for automatically fitting digitized curves", Graphics Gems 1990).
// Frame: the caller's; lengths in the caller's unit.
// Not for: open paths.
#pragma once

#include "outline/outline.h"

namespace debossier::trace {

struct BezierFitOptions {
  double tolerance = 0.003;     ///< Largest distance of the polyline from the curve.
  double corner_reach = 0.045;  ///< Length before and after a point over which its turn is taken.
  double corner_turn_deg = 42;  ///< A sharper turn is a corner.
};

/// Fits one contour. The direction of travel is kept.
outline::Contour FitContour(const outline::Polyline& polyline,
                            const BezierFitOptions& options = {});

}  // namespace debossier::trace
