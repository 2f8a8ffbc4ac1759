// Plain faces that lettering of unknown face is read with: the alphabets in glyphs/, part of the
// program.
//
// Frame: cap heights of the face, y up, baseline and pen at the origin.
// Not for: comparing an item; these are nobody's lettering.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "outline/outline.h"

namespace debossier::typeset {

struct GeneralGlyph {
  outline::Outline outline;  ///< Empty for a space.
  double advance = 0;
};

struct GeneralFace {
  std::string name;
  std::map<std::string, GeneralGlyph> glyphs;  ///< By character.

  /// The character's glyph, or its base letter's where the face has no accents; null without
  /// either.
  const GeneralGlyph* Find(const std::string& character) const;
};

const std::vector<GeneralFace>& GeneralFaces();

}  // namespace debossier::typeset
