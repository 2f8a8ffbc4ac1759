// The questioned lettering over a verified one, straight on and at one scale, as a picture for a
// page: what a reader compares by eye.
//
// One SVG file that holds its pictures and asks for nothing else. The same photos give the same
// bytes. Frame: picture pixels, y down. Not for: judging; nothing is drawn over the photographs.
#pragma once

#include <string>

#include "compare/comparison.h"
#include "image/photo.h"
#include "report/verified.h"

namespace debossier::report {

/// Where no verified item's photo is kept, the set's mean outlines stand below, filled. Empty where
/// nothing was placed. `verified` may be null.
std::string PairSvg(const image::Photo& photo, const compare::Comparison& comparison,
                    const VerifiedPicture* verified);

}  // namespace debossier::report
