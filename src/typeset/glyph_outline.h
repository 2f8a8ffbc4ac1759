// One glyph's outline out of FreeType, as contours of lines and cubics, directed as the font has
// it.
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

}  // namespace debossier::typeset
