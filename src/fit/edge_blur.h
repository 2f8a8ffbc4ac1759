// Blur of a photo's edges, from their slope at half height.
//
// A step under a Gaussian of standard deviation s falls by 1 / (s sqrt(2 pi)) a pixel in its
// middle. Frame: pixels of the coverage map. Not for: motion blur by direction; the mean over all
// directions comes out.
#pragma once

#include <vector>

#include "fit/edge.h"
#include "fit/fit_element.h"

namespace debossier::fit {

/// Standard deviation in map pixels, the mean over the edges that the found elements' fits found
/// and `reader` finds too; 0 where there are none.
double EdgeBlurPx(const EdgeReader& reader, const std::vector<ElementFit>& elements);

/// The same, and robust spread of the elements' own blur about it, relative: focus and light
/// differ over a stamp.
struct EdgeBlur {
  double px = 0;
  double stray = 0;
};
EdgeBlur EdgeBlurAndStray(const EdgeReader& reader, const std::vector<ElementFit>& elements);

}  // namespace debossier::fit
