// The words and numbers that the reports share: findings, verdicts, values with their units.
//
// Numbers do not depend on the locale; what is not finite reads as a dash.
#pragma once

#include <string>
#include <vector>

#include "compare/comparison.h"

namespace debossier::report {

/// "Departs", "No departure found", "Cannot tell".
const char* Headline(compare::Finding finding);

/// "departs", or nothing.
const char* Verdict(const compare::Feature& feature);

/// A value in its unit's usual number of decimals: four for lengths in cap heights, ratios and
/// shares, two for degrees. `with_sign` writes a plus too.
std::string Value(double value, const std::string& unit, bool with_sign = false);
/// A number with this many decimals, or a dash.
std::string Fixed(double value, int decimals, bool with_sign = false);
/// "0.012", or "< 0.0001".
std::string Probability(double p);

/// What verified items show: the mean and two standard deviations between items to each side,
/// "0.3712 to 0.3894".
std::string RangeInWords(const compare::Feature& feature);
/// The same with this many decimals.
std::string RangeInWords(const compare::Feature& feature, int decimals);

/// "1 item", "7 verified items", "made from a font, without verified items".
std::string ItemsInWords(const compare::Comparison& comparison);
/// "set talvenne-1968, revision 3".
std::string SetInWords(const compare::Comparison& comparison);
/// The maker's label and the period, parted by a comma; empty where there are none.
std::string MakerInWords(const compare::Comparison& comparison);

/// "p = 0.012"; where no p is known how many genuine photos lay beyond, and the end of the share's
/// 95 % interval: "0 of 600 (< 0.6 %)".
std::string OddsInWords(const std::optional<double>& p,
                        const std::optional<compare::MeasuredShare>& beyond);

/// `reason` in numbers: amplitude with U (k = 2), then z with the level and p. Empty where the
/// reason has no numbers.
std::vector<std::string> NumbersOf(const compare::Reason& reason);

/// The largest limit among the decidable sentences of one measure: a departure of this size would
/// have shown in any of them.
struct MeasureLimit {
  std::string measure;
  std::string unit;
  double largest = 0;
};
/// In the order in which the measures first appear.
std::vector<MeasureLimit> LargestLimits(const compare::Comparison& comparison);
/// "1.6 % of the cap height", "1.7 %", "0.5°".
std::string LimitInWords(const MeasureLimit& limit);

/// "1 cap height = 3.512 mm (U = 0.021 mm, k = 2), from the scale card, 11 of its 11 marks seen".
std::string ScaleInWords(const card::Scale& scale);
/// The scale's warnings, then its limits, as sentences.
std::vector<std::string> ScaleNotes(const card::Scale& scale);

/// What to photograph again: the comparison's advice, then the photo's, without repeats.
std::vector<std::string> AllAdvice(const compare::Comparison& comparison);

}  // namespace debossier::report
