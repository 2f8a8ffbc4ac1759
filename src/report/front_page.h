// What page one of a photo's report and of an item's dossier share: the facts, the finding, cards
// of departures, and what all this does not prove.
//
// Frame: page points, y down.
#pragma once

#include <array>
#include <string>
#include <utility>

#include "report/exhibits.h"

namespace debossier::report {

/// A name and its value; one that is empty is left blank, to be written by hand.
using Fact = std::pair<const char*, std::string>;

/// Two columns of four; the third on the left may take two lines.
void DrawFacts(Canvas& canvas, const Rect& body, double y, const std::array<Fact, 4>& left,
               const std::array<Fact, 4>& right);
double FactsHeight();

/// "A. Name, Laboratory".
std::string ExaminedBy(const ReportFields& fields);

/// The finding as a sign, in words, and its summary.
void DrawFindingPanel(Canvas& canvas, const Rect& panel, compare::Finding finding,
                      const std::string& summary);
double FindingHeight(Canvas& canvas, double width, const std::string& summary);

/// A departure: its number, its figure and its sentence with numbers; `seen_in` says where, and may
/// be empty.
double CardHeight(Canvas& canvas, const Material& material, const compare::Reason& reason,
                  const std::string& seen_in = "");
void DrawCard(Canvas& canvas, const Material& material, const compare::Reason& reason, int number,
              const Rect& card, const std::string& seen_in = "");

/// A heading within the page.
inline constexpr double kSubheadingHeight = 18;
void DrawSubheading(Canvas& canvas, const Rect& body, double y, const std::string& words);

/// In a box at the foot of the body.
void DrawDisclaimer(Canvas& canvas, const Rect& body);
double DisclaimerHeight(Canvas& canvas, double width);

}  // namespace debossier::report
