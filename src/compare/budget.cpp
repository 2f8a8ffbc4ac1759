#include "compare/budget.h"

#include <array>

#include "base/result.h"
#include "compare/statistics.h"

namespace debossier::compare {

namespace {

/// Genuine photos beyond each level: debossier-accuracy --genuine 40 --copies --seed 77, 15 dies,
/// sets of six, typical photos with a cap height of 80 to 140 px.
constexpr std::array<FamilyBudget, 9> kBudgets = {{
    {Family::kLines, 0.4, 0, 0, 0},
    {Family::kLetterPlace, 0.05, 4.5, 0, 600},
    {Family::kLetterSize, 0.05, 4.8, 0, 600},
    {Family::kSmallLetterPlace, 0.05, 6.0, 0, 600},
    {Family::kSmallLetterSize, 0.05, 7.0, 0, 600},
    {Family::kMarkAlong, 0.1, 3.3, 0, 561},
    {Family::kMarkAcross, 0.05, 4.0, 0, 561},
    {Family::kMarkSize, 0.05, 5.0, 0, 561},
    {Family::kForm, 0.2, 1, 0, 0},
}};

}  // namespace

std::span<const FamilyBudget> Budgets() { return kBudgets; }

const FamilyBudget& BudgetOf(Family family) {
  for (const FamilyBudget& budget : kBudgets) {
    if (budget.family == family) return budget;
  }
  DEBOSSIER_ASSERT(!"a family without a budget");
}

double LevelAt(const FamilyBudget& budget, double rate) {
  if (budget.level == 0) return 0;
  return budget.level * NormalScore(rate * budget.share) / NormalScore(kUsualRate * budget.share);
}

}  // namespace debossier::compare
