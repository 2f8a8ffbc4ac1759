// Which side of its contours a font's glyph is filled on.
//
// Frame: any, y up.
// Not for: outlines whose contours are right or wrong by nesting; outline::WithStandardDirection.
#pragma once

#include "outline/outline.h"

namespace debossier::typeset {

/// Turns contours so that the filled side (nonzero rule) is on the left. What is filled stays so,
/// whether the font runs its outer contours clockwise (TrueType) or not (PostScript), also where
/// a component was mirrored or where contours overlap.
outline::Outline WithFillOnLeft(const outline::Outline& glyph);

}  // namespace debossier::typeset
