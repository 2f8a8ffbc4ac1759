// Whether traced letters are the letters of the text: each is held against all letters of the
// general faces.
//
// A wrong text, a missing or an extra letter, or a letter that was cut in the wrong place, gives
// outlines that are no letter, or another one; they would agree with each other for ever.
// Frame: stamp. Not for: comparing an item.
#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "outline/lettering.h"

namespace debossier::trace {

struct LetterCheck {
  std::string id;
  int line_idx = 0;
  std::string character;
  double likeness = 0;     ///< Correlation with the letter that it should be, 0 to 1.
  std::string looks_like;  ///< The letter of its case that it is most like.
  double margin = 0;       ///< Of its own letter against the best other one.
};

/// The outline is hardly that letter: it is like no letter, or more like another one.
bool IsDoubtful(const LetterCheck& check);

/// The doubtful letter is clearly another one, and not only worn.
bool IsAnother(const LetterCheck& check);

/// One entry a letter that the general faces have; signs and figures are left out.
std::vector<LetterCheck> CheckLetters(const outline::Lettering& lettering);

/// The doubtful ones of `lettering`. Refuses with kLetteringNotFound where more than a quarter of a
/// line's letters are: then the text is not what was stamped.
Result<std::vector<LetterCheck>> DoubtfulLetters(const outline::Lettering& lettering);

/// For people: `the 4th letter of "KELMARE" (M) looks like W`.
std::string InWords(const std::vector<LetterCheck>& doubtful, const outline::Lettering& lettering);

}  // namespace debossier::trace
