// A small picture of one comparison: the photo around the lettering, upright, with the reference
// outlines dashed over it and what departs drawn solid and thicker.
//
// One SVG file that holds its picture and asks for nothing else. The same comparison and photo give
// the same bytes.
// Frame: thumbnail pixels, y down.
// Not for: judging; a departure of 2 % of the cap height is less than a pixel here.
#pragma once

#include <string>

#include "compare/comparison.h"
#include "image/photo.h"

namespace debossier::report {

/// The thumbnail of a comparison; the whole photo without lines where nothing was placed.
std::string ThumbnailSvg(const image::Photo& photo, const compare::Comparison& comparison);

/// The thumbnail of a photo that was refused.
std::string ThumbnailSvg(const image::Photo& photo);

}  // namespace debossier::report
