// Items of a plan and their dossiers.
//
// Not for: what a dossier says or shows (report/dossier.h).
#pragma once

#include <string>
#include <vector>

#include "batch/plan.h"
#include "batch/record.h"
#include "report/dossier.h"

namespace debossier::batch {

/// The photos of one item, in the plan's order.
struct PlannedItem {
  std::string name;
  std::vector<const Entry*> entries;
};
/// In the order in which the plan first names them; photos without an item are in none.
/// @pre the plan outlives the result.
std::vector<PlannedItem> ItemsOf(const Plan& plan);

/// Reads an entry's photo; one that cannot be read says so in the result.
report::DossierPhoto ReadForDossier(const Entry& entry, const refset::RefSet& set);

}  // namespace debossier::batch
