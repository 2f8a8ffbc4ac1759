// A die from a few words: face, lines, mark and frame, with known changes.
//
// Unit: cap heights of the wordmark. Frame of what comes out: stamp.
// Not for: fonts themselves (typeset/font.h).
#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "outline/lettering.h"
#include "simulate/departures.h"
#include "typeset/font.h"

namespace debossier::simulate {

struct DiePlan {
  std::string face;         ///< Font file, or UFO folder of an alphabet.
  std::string origin_face;  ///< Of the lines after the first; empty: the same.
  std::string other_face;   ///< That departures take letters from; may be empty.
  std::vector<std::string> lines{"MARWIGGE", "MADE IN FRANCE"};  ///< The first is the wordmark.
  double line_size = 0.5;  ///< Cap height of the lines after the first.
  double line_step = 0;    ///< From one baseline to the next; 0: room for the frame.
  double tracking = 0.05;  ///< Added after each letter, in cap heights of its line.
  typeset::MarkSpec mark{.character = "", .size = 0.32, .gap = 0.12, .rise = 0.68};
  outline::FrameKind frame = outline::FrameKind::kNone;  ///< Round the second line, or round one.
  std::string other_text = "MADE BY HAND";               ///< For the departure "text".
};

/// Lays out the die with the departures done, whose elements come back filled in. Refuses a face
/// that cannot be read, naming its file, and a departure that does not apply.
Result<outline::Lettering> MakeDie(const DiePlan& plan, std::vector<Departure>& departures);

}  // namespace debossier::simulate
