// The case that a line of text is set in: told from its characters, or given to them.
//
// Not for: what a photo shows; measure reads that.
#pragma once

#include <string>

namespace debossier::outline {

enum class LineCase {
  kCapitals,
  kTitle,  ///< Capital initials and small letters.
  kSmall,
  kSmallCapitals,
  kMixed,  ///< As kTitle, but words such as "in" and "de" small; or anything else with both.
  kCannotTell,
};

/// Whether `word` links others and often stays small where initials are capitals ("in", "de").
bool IsLinkingWord(const std::string& word);

/// `text` set in `wanted`: one of kCapitals, kTitle, kSmall and kMixed; it is returned as it is for
/// the others. A word ends at whatever is no letter.
std::string InCase(const std::string& text, LineCase wanted);

/// kCannotTell where the text has no letters of either case.
LineCase CaseOfText(const std::string& text);

}  // namespace debossier::outline
