// The dies of the accuracy program: invented makers' lettering set in faces of Debian packages.
//
// Five families of look-alike faces, three faces each. In each family one or two faces are never
// used while anything is tuned ("unseen"); results for both halves are reported apart.
// Frame: stamp (cap heights, y up).
// Not for: real makers; all names here are invented.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "outline/lettering.h"
#include "simulate/truth.h"

namespace debossier::accuracy {

struct DiePlan {
  const char* family;      ///< "geometric", "grotesque", "humanist", "didone", "old style".
  const char* font;        ///< File.
  const char* look_alike;  ///< Another face of the family.
  bool unseen;             ///< Not used for tuning.
  const char* wordmark;    ///< In capitals.
  const char* origin;      ///< In capitals.
  const char* mark;
  outline::FrameKind frame;  ///< Round the origin line.
};

std::span<const DiePlan> DiePlans();

/// Lays out the die with the departures done. Refuses where a font is not installed, naming its
/// file, and where a departure does not apply.
Result<outline::Lettering> MakeDie(const DiePlan& plan,
                                   std::vector<simulate::Departure>& departures);

}  // namespace debossier::accuracy
