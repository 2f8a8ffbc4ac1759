// The edge of the foil about one element, with all its holes and specks, for pictures.
//
// Coverage at one half, enlarged four times; good to a quarter of a map pixel.
// Frame: photo pixels.
// Not for: measuring; edges are read below a pixel by fit::EdgeReader.
#pragma once

#include <vector>

#include "fit/place_lettering.h"
#include "outline/outline.h"

namespace debossier::measure {

/// Closed contours of the foil within 8 % of the cap height of `element` (stamp frame); empty
/// where it lies outside the photo.
std::vector<outline::Polyline> FoilEdgeAbout(const outline::Outline& element,
                                             const fit::PlaceReport& placed);

}  // namespace debossier::measure
