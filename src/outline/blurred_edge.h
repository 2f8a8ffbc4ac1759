// Where the edge of a blurred shape seems to lie: the level line at one half against the true edge.
//
// On a straight edge both agree; at a corner, a tight bend or a hairline the level line lies inside
// (Verbeek and van Vliet 1993, "On the location error of curved edges in low-pass filtered 2-D and
// 3-D images"). In polar coordinates about a point of the edge the Gaussian's integral over the
// shape is a line integral along the boundary, of which only the stretch near by counts.
// Frame: that of the outline; `sigma` in its unit.
// Not for: points off the outline, or blur wider than the strokes are thick.
#pragma once

#include <vector>

#include "outline/outline.h"

namespace debossier::outline {

/// Displacement along the outward normal of each sample at which the outline, blurred by a Gaussian
/// of standard deviation `sigma`, falls to one half; negative inside, to first order in the missing
/// coverage and limited to one sigma. In step with `samples`, which lie on `outline`.
std::vector<double> BlurredShifts(const Outline& outline, const std::vector<EdgeSample>& samples,
                                  double sigma);

}  // namespace debossier::outline
