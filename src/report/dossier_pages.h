// The pages of a dossier that are about all photos of the item together.
//
// Frame: page points, y down.
#pragma once

#include <deque>
#include <string>
#include <vector>

#include "compare/together.h"
#include "report/pages.h"

namespace debossier::report {

struct DossierMaterial {
  const compare::ItemComparison& item;
  const ReportFields& fields;
  const std::string& observations;
  std::string number;
  Rect body;
  std::vector<const Material*> photos;  ///< In step with the item's; null: not compared.
  /// Each set's combined values, as if one photo had shown them.
  std::deque<compare::Comparison> combined;
  bool is_demonstration = false;
};

/// Page one, and the departures that it has no room for.
void PlanFront(const DossierMaterial& dossier, Canvas& canvas, Pages& pages);
/// Page one, the departures after it, the photos, and the combined values.
/// @pre `dossier` outlives the pages.
void PlanDossier(DossierMaterial& dossier, Canvas& canvas, Pages& pages);
/// Observations, method, cautions, opinion and end.
void PlanDossierEnd(const DossierMaterial& dossier, Canvas& canvas, Pages& pages);

std::string FooterOf(const DossierMaterial& dossier);

}  // namespace debossier::report
