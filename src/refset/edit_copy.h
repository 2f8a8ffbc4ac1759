// The copy of a set's outlines in `glyphs/<id>.ufo`, the one file to edit in a font editor.
//
// It follows the current revision. A set stands without it: where it is missing, the next command
// puts it back. One that was edited and not adopted is never written over without a word of the
// user.
// Not for: taking an edit into the set (curate.h).
#pragma once

#include <filesystem>
#include <string>

#include "refset/refset.h"

namespace debossier::refset {

std::filesystem::path EditCopy(const Library& library, const std::string& id);

/// True where the copy holds outlines that no revision of the set has, or cannot be read.
bool HasEdits(const Library& library, const RefSet& set);

/// Puts the outlines of `set`, the current revision, in the copy's place where it is missing or is
/// of an earlier revision; with `replace_edits` whatever it is. Refuses nothing.
void OfferOutlines(const Library& library, const RefSet& set, bool replace_edits = false);

}  // namespace debossier::refset
