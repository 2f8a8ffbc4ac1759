// Known changes to a die: what a copy's maker gets wrong, each with an amount.
//
// Lengths are cap heights of the wordmark. Changes of size are shares: 0.03 is 3 % larger.
// Frame: stamp.
// Not for: changes by pressing, wear or the camera; those are amounts of the simulation.
#pragma once

#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "base/result.h"
#include "outline/lettering.h"
#include "outline/line_case.h"
#include "simulate/truth.h"

namespace debossier::simulate {

/// Lays the die out again with these texts, one a line; from the same face or another.
using LayOutAgain = std::function<Result<outline::Lettering>(const std::vector<std::string>&)>;

/// Moves the mark away from the last letter.
outline::Lettering WithMarkGap(const outline::Lettering& die, double amount);
/// Scales the mark about its lower left corner.
outline::Lettering WithMarkSize(const outline::Lettering& die, double share);
/// Moves everything on the line right of element `left_id` (and the mark with the wordmark).
Result<outline::Lettering> WithPairGap(const outline::Lettering& die, const std::string& left_id,
                                       double amount);
/// Widens every gap of a line by `amount`; its first letter stays.
Result<outline::Lettering> WithTracking(const outline::Lettering& die, const std::string& line_id,
                                        double amount);
/// Scales one letter about its own middle on the baseline.
Result<outline::Lettering> WithLetterSize(const outline::Lettering& die, const std::string& id,
                                          double share);
/// Scales a line about its middle on the baseline.
Result<outline::Lettering> WithLineSize(const outline::Lettering& die, const std::string& line_id,
                                        double share);
/// Moves the outline of one element (or, with an empty id, of all) outward by `amount`.
Result<outline::Lettering> WithStrokeWeight(const outline::Lettering& die, const std::string& id,
                                            double amount);
/// Puts the outline that `other` has for the same element in its place: middles agree in x, and
/// baselines in y; `other` has the same lines.
Result<outline::Lettering> WithLetterOf(const outline::Lettering& die,
                                        const outline::Lettering& other, const std::string& id);
/// Lays out again with another text in one line.
Result<outline::Lettering> WithText(const outline::Lettering& die, const std::string& line_id,
                                    const std::string& text, const LayOutAgain& again);
/// Draws a frame `clearance` outside the box of a line (-1: of everything); kNone removes it.
outline::Lettering WithFrame(const outline::Lettering& die, outline::FrameKind kind, int line_idx,
                             double clearance, double line_weight);

/// The case that a departure sets a line in; nothing for departures that are about other things.
std::optional<outline::LineCase> CaseAsked(const std::string& departure);

struct DepartureKind {
  const char* name;
  const char* unit;  ///< Of the amount; "none" where there is no amount.
  double usual;      ///< An amount that a good program should see.
  const char* meaning;
};
std::span<const DepartureKind> DepartureKinds();

struct DepartureSources {
  LayOutAgain same_face;   ///< For changes of text and case.
  LayOutAgain other_face;  ///< For look-alike letters; may be empty.
  LayOutAgain other_mark;  ///< With another mark; may be empty.
  std::string other_text;  ///< For "text": the new text of the line.
};

/// Applies a departure by name. An empty element means the usual one: the second letter of the
/// wordmark, or the origin line. The departure comes back with its element filled in.
Result<outline::Lettering> ApplyDeparture(const outline::Lettering& die, Departure& departure,
                                          const DepartureSources& sources);

}  // namespace debossier::simulate
