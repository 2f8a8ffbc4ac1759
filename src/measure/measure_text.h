// Measuring without a reference set: the text alone is known.
//
// The outlines are traced from the photo itself, so an element cannot be compared with anything;
// sizes, gaps, heights and cases can. Their uncertainty is not in the fit's residuals (the outline
// follows the photo): it is put together from named sources after the GUM (JCGM 100).
// Frame and units: as in measurements.h. Not for: judging an item.
#pragma once

#include <string>
#include <vector>

#include "fit/place_lettering.h"
#include "measure/measurements.h"

namespace debossier::measure {

/// Where the uncertainty of a length comes from; standard, in cap heights, shares or both.
struct UncertaintySource {
  std::string name;      ///< For people.
  double of_edge = 0;    ///< Of the place of every edge by itself.
  double of_growth = 0;  ///< Common to all edges: outward.
  double of_width = 0;   ///< Share of a length along the line.
  double of_height = 0;  ///< Share of a length across it.
};

/// By how much foil and leather usually spread beyond each edge of the die, in cap heights; from
/// memory, of stamps 2 to 4 mm high. How far a stamp strays from it is one of the sources below.
inline constexpr double kUsualSpread = 0.005;

/// How much further out the edge of foil is read than it lies, in cap heights: an edge is read
/// where the camera's code is halfway between foil and leather, and codes are not linear in light
/// (IEC 61966-2-1), so that blur moves it towards the darker side.
double CodingGrowth(const separate::Coverage& coverage, double blur_cap_heights);

/// The sources for lettering placed as in `placed`, whose photo is blurred by `blur_px`.
std::vector<UncertaintySource> SourcesOf(const fit::PlaceReport& placed, double blur_px);

/// Takes an outward growth of all edges out of the measured lengths, the unit's own too.
void TakeOutGrowth(double growth, Measurements& measured);

/// Adds the sources to the measured values' uncertainties.
void AddUncertainty(const std::vector<UncertaintySource>& sources, Measurements& measured);

}  // namespace debossier::measure
