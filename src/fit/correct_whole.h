// The placement of the whole from its elements, so that a moved letter does not drag the others.
//
// Frame: stamp (cap heights, y up). Not for: the first fit of the whole (fit_whole.h).
#pragma once

#include <vector>

#include "fit/fit_element.h"
#include "fit/fit_whole.h"
#include "outline/lettering.h"

namespace debossier::fit {

/// Corrects the whole from its elements: each gives its shift and scales, with a Student weight.
/// Every line after the first also has a size and a place of its own, which the whole must not
/// take up: a larger origin line looks like tilt, and tilt would hide it.
void CorrectFromElements(const std::vector<ElementFit>& elements,
                         const outline::Lettering& lettering, const WholeOptions& options,
                         Placement& placement);

}  // namespace debossier::fit
