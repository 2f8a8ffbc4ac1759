// The outlines of a set as a UFO 3 font and back, and a digest of what they draw.
//
// Frame of the lettering: stamp; of the font: font units, 700 to a cap height, each glyph from its
// own left edge and its line's baseline.
// Not for: where the folders lie; library.cpp and write_set.cpp know that.
#pragma once

#include <string>

#include "outline/ufo.h"
#include "refset/refset.h"

namespace debossier::refset {

/// One glyph for each element, named by the element's id.
outline::UfoFont FontOf(const RefSet& set);

/// Fills the elements' outlines from `font`. Refuses with kSetUnreadable where one is missing.
Result<std::monostate> PlaceOutlines(const outline::UfoFont& font,
                                     const std::vector<ParsedSet::Glyph>& glyphs,
                                     const std::string& where, outline::Lettering& lettering);

/// SHA-256 over names and coordinates (to a thousandth of a font unit, as files hold them) in the
/// order of the names: the same drawing gives the same digest, whoever wrote the files.
std::string Digest(const outline::UfoFont& font);

}  // namespace debossier::refset
