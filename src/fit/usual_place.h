// Whether the photo shows that an element is not in its usual place and size.
//
// Fits of edges lock onto other edges: worn foil, grain, a neighbour's stem. So what a fit says is
// held against the pixels: each place is rendered as the photo would show it, and the places'
// likelihoods are compared, with foil that is missing cheap, since it wears off, and foil where
// there should be none dear, since none grows. Frame: map pixels of the coverage.
// Not for: looking for further places; find_element.h does that.
#pragma once

#include <vector>

#include "fit/fit_element.h"
#include "fit/render_reference.h"
#include "outline/lettering.h"
#include "separate/coverage.h"

namespace debossier::fit {

struct PlaceEvidence {
  double log_likelihood = 0;
  double extra = 0;  ///< Foil that nothing drawn explains, in the units of the log-likelihood.
};

/// Log-likelihoods of one element's pixels.
class PlaceLikelihood {
 public:
  /// All other elements stand at their fits.
  PlaceLikelihood(const separate::Coverage& coverage, const RenderedReference& rendered,
                  const Placement& map_from_stamp, const outline::Lettering& lettering,
                  const std::vector<ElementFit>& elements, std::size_t idx);

  /// With the element at each of the places; nullptr: absent. All over the same pixels.
  std::vector<PlaceEvidence> Of(const std::vector<const ElementFit*>& places) const;

 private:
  const separate::Coverage& coverage_;
  const RenderedReference& rendered_;
  const Placement& map_from_stamp_;
  const outline::Lettering& lettering_;
  const std::vector<ElementFit>& elements_;
  std::size_t idx_;
};

/// How much better the rendering explains the coverage than bare ground does, over the same of a
/// perfect match: 1 where the photo is the rendering, below 0 where ground alone explains more.
double ExplainedShare(const separate::Coverage& coverage, const RenderedReference& rendered);

/// Where each element would stand by its line alone: a straight line through the line's places, and
/// its median size (no gain, no slant). The first line stands where the whole does.
std::vector<ElementVector> UsualPlaces(const outline::Lettering& lettering,
                                       const std::vector<ElementFit>& elements);

}  // namespace debossier::fit
