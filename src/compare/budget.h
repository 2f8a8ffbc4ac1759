// How the false-flag rate of a photo is shared, and how far each family of sentences may stray.
//
// Families of lines have a known tail: their z is normal, their level follows from their share and
// from how many independent sentences their correlations leave. Families of single elements have
// none, since a letter can be misfitted: their levels were measured, and say how many genuine
// photos lay beyond. Not for: estimating z (hypotheses.h).
#pragma once

#include <span>
#include <string>

namespace debossier::compare {

enum class Family {
  kLines,        ///< Steps, tracking, size and place of lines.
  kLetterPlace,  ///< Of the wordmark.
  kLetterSize,
  kSmallLetterPlace,  ///< Of later lines, which are smaller in the photo.
  kSmallLetterSize,
  kMarkAlong,
  kMarkAcross,
  kMarkSize,
  kForm,  ///< What has no amount; counts by size and blur are in category_rates.h.
};

struct FamilyBudget {
  Family family;
  double share;  ///< Of the false-flag rate.
  double level;  ///< |z| beyond which a sentence is said at the usual rate; 0: from the share.
  int beyond;    ///< Genuine photos beyond the level, of
  int photos;    ///< all that were measured.
};
const FamilyBudget& BudgetOf(Family family);
std::span<const FamilyBudget> Budgets();

/// The rate for which measured levels stand: 1 genuine photo in 200.
inline constexpr double kUsualRate = 0.005;

/// The level of a measured family at another rate: a normal tail of the width that puts the
/// measured level at the family's share of the usual rate.
double LevelAt(const FamilyBudget& budget, double rate);

}  // namespace debossier::compare
