// The die's own numbers: what a perfect measurement would say.
//
// Worked out from boxes and outlines of the die alone, apart from the code that measures photos.
// Unit: cap heights of the wordmark.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "outline/lettering.h"

namespace debossier::accuracy {

/// The die's value of a measured feature where every edge stands `gain` further out; nothing for
/// measures that have no truth of their own (letterform, offsets).
std::optional<double> TrueValue(const outline::Lettering& die, const std::string& measure,
                                const std::vector<std::string>& elements, double gain);

/// How the outlines of a set lie against the die's, along their length, after a similarity of the
/// whole and one common gain are taken out.
struct OutlineAgreement {
  double rms = 0;           ///< Root mean square distance.
  double gain = 0;          ///< The common gain: how much further out the traced edges stand.
  double worst_letter = 0;  ///< The same root mean square, of the letter where it is largest.
};
OutlineAgreement CompareOutlines(const outline::Lettering& traced, const outline::Lettering& die);

}  // namespace debossier::accuracy
