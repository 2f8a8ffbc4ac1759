// One glyph's outline out of FreeType, as cubic contours with the direction this project uses.
//
// Frame: that of the FreeType outline (font units where loaded without scale), y up.
// Not for: bitmap or colour glyphs.
#pragma once

#include <ft2build.h>

#include <optional>

#include FT_OUTLINE_H

#include "outline/outline.h"

namespace debossier::typeset {

/// Lines stay lines, quadratic curves are raised to cubics (the same curve, exactly). Contours that
/// enclose nothing are left out. Empty result where FreeType finds the outline damaged.
std::optional<outline::Outline> FromFreeType(const FT_Outline& glyph);

/// Turns contours so that the filled side (nonzero rule) is on the left. What is filled stays so,
/// whether the font runs its outer contours clockwise (TrueType) or not (PostScript), also where
/// a component was mirrored or where contours overlap.
outline::Outline WithFillOnLeft(const outline::Outline& glyph);

}  // namespace debossier::typeset
