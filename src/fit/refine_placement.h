// From a rough placement to the final one: fit of the whole, fits of the elements, correction of
// the whole from them, the rendering that readings are held against, and whether all that is
// enough.
//
// Frames: as place_lettering.h. Not for: finding the rough placement.
#pragma once

#include "fit/place_lettering.h"

namespace debossier::fit {

/// True where both put the corners of the lettering's box at the same place, to `tolerance` cap
/// heights.
bool SamePlace(const Placement& a, const Placement& b, const outline::Box& box, double tolerance);

/// kLetteringNotFound: the best place fits this share of it.
Unexpected NotFound(double share);

/// Refines a rough placement (photo from stamp). Refuses with kLetteringNotFound.
Result<PlaceReport> RefinePlacement(const cv::Mat& bgr, const outline::Lettering& lettering,
                                    const Placement& photo_from_stamp, const PlaceOptions& options);

}  // namespace debossier::fit
