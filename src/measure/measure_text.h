// Measuring without a reference set: the text alone is known.
//
// The outlines are traced from the photo itself, so an element cannot be compared with anything;
// sizes, gaps, heights and cases can. Their uncertainty is not in the fit's residuals (the outline
// follows the photo), so it is stated from the picture's noise, blur and a usual raggedness of the
// edge. Frame and units: as in measurements.h. Not for: judging an item.
#pragma once

#include "base/result.h"
#include "fit/place_lettering.h"
#include "measure/measurements.h"

namespace debossier::measure {

/// Standard uncertainty of one straight edge of a letter, in cap heights: a Gaussian-blurred step
/// of contrast-to-noise ratio SNR has sigma_row = sqrt(2 sqrt(pi) sigma_e) / SNR pixels a row; rows
/// of one stem and raggedness (0.6 % of cap height, correlated over 5 %) average out over it.
double EdgeUncertainty(const fit::PlaceReport& placed, double blur_px);

/// Adds `u_edge` of every edge to the measured values' uncertainties.
void AddEdgeUncertainty(double u_edge, Measurements& measured);

}  // namespace debossier::measure
