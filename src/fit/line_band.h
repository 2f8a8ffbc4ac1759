// The surroundings of one line of a placed lettering, upright, for reading it again.
//
// Not for: lines whose letters fit the reference; they need no reading.
#pragma once

#include <vector>

#include "fit/place_lettering.h"
#include "outline/lettering.h"
#include "reading/line_reading.h"

namespace debossier::fit {

struct PlacedBand {
  reading::LineBand band;
  outline::Affine stamp_from_band;
};

/// Coverage about line `line_idx`, from two of its cap heights above its baseline to 1.1 below. The
/// `frame` (its rule and all outside of it) and the letters of other lines are ground. Of `placed`
/// the coverage and its placement do; without a cut-out the coverage is taken as it is.
PlacedBand BandAround(const outline::Lettering& reference, int line_idx,
                      const outline::Frame& frame, const PlaceReport& placed);

/// The letters of `fit` where they were read, stamp frame; one a character, empty for spaces.
std::vector<outline::Outline> LettersAsRead(const PlacedBand& placed,
                                            const reading::StringFit& fit);

}  // namespace debossier::fit
