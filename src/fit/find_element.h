// Looks for one element that is not where the whole's placement says: moved, or of another size.
//
// Grid search on the contrast between just inside and just outside the outline on the coverage map.
// Frame: stamp (cap heights, y up).
// Not for: the final position; FitElement starts from what is found here.
#pragma once

#include "fit/edge.h"
#include "fit/fit_element.h"

namespace debossier::fit {

struct FindOptions {
  Point about{0, 0};  ///< The shift in the middle of the search, cap heights.
  double left = 0.7;  ///< How far from there, cap heights.
  double right = 0.7;
  double reach_y = 0.3;
  double step = 0.04;
  double least_scale = 1.0;  ///< Scales tried: least to most, in equal ratios.
  double most_scale = 1.0;
  int scales = 1;
  double pull = 0.12;  ///< Towards the middle: of the score, at one cap height.
};

struct FoundElement {
  double score = -1;  ///< Mean coverage inside minus outside, about 1 for a perfect match.
  ElementVector start = ElementVector::Zero();
};

/// The best place within reach; a weak pull towards the middle breaks ties.
FoundElement FindElement(const EdgeReader& reader, const outline::Outline& element,
                         const FindOptions& options = {});

}  // namespace debossier::fit
