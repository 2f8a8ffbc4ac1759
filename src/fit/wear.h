// The wear of a whole photo, carried by each of its letters.
//
// A letter's own residuals cannot show what they were fitted away by: a stem of which the foot is
// worn off fits a shorter stem well. How far stretches of outline stray on the photo's other
// letters says how far such a stretch can be trusted.
// Frame and units: as in fit_element.h. Not for: photos of one letter.
#pragma once

#include <vector>

#include "fit/fit_element.h"

namespace debossier::fit {

/// Mean square of how far stretches of kChipLength are worn inward, beyond what strays outward, cap
/// heights squared: the median over the found elements, so that a few letters of another form do
/// not blur all others. 0 where fewer than four elements were found.
double ChipVariance(const std::vector<ElementFit>& elements);

/// Enlarges each covariance, in the directions in which it is smaller, to what ChipVariance() makes
/// of the element's leverage.
void CarryWear(std::vector<ElementFit>& elements);

}  // namespace debossier::fit
