// The elements of one attempt at placing a lettering: fitted, searched for, held against what the
// reference would look like.
//
// Frames: as in place_lettering.h. Not for: the placement of the whole.
#pragma once

#include <map>
#include <utility>

#include "fit/label_pixels.h"
#include "fit/place_lettering.h"

namespace debossier::fit {

struct Attempt {
  PlaceReport report;
  double cap_px = 0;  ///< Map pixels per cap height.
  Labels labels;      ///< What the coverage was learned from.
  /// Outlines as sampled so far, by element and spacing.
  std::map<std::pair<std::size_t, double>, SampledOutline> sampled;
};

/// Spacing of the edge samples of fits that only lead to others, cap heights.
inline constexpr double kRoughStep = 0.04;

/// Fits every element with samples `step` apart; those that were fitted before start there, so that
/// the search for what looks misplaced runs once.
void FitElements(const outline::Lettering& lettering, const PlaceOptions& options, bool search,
                 double step, Attempt& attempt);

/// Renders the reference where the fits have it and fits what the photo shows beyond the rendering,
/// until both agree: blur moved the fits, and with them what is rendered.
void CompareWithRendering(const outline::Lettering& lettering, const PlaceOptions& rough,
                          Attempt& attempt);

/// Puts every element back into its usual place and size unless the pixels clearly prefer where its
/// fit has it; one that they do not prefer to nothing at all is not found.
void PreferUsualPlaces(const outline::Lettering& lettering, const PlaceOptions& options,
                       Attempt& attempt);

/// Elements of which more than a twentieth lies outside the picture are not found but cut.
void LeaveOutCut(const outline::Lettering& lettering, Attempt& attempt);

}  // namespace debossier::fit
