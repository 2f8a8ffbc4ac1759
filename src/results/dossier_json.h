// An item's photos taken together, as a JSON document and as text for the terminal.
//
// JSON: "debossier-dossier", version 1; src/results/dossier.schema.json describes it. Each photo's
// whole result is in it. Numbers as in result_json.h.
// Not for: computing; compare/together.h does that.
#pragma once

#include <string>

#include "compare/together.h"

namespace debossier::report {

/// `observations`: the examiner's own words on the item.
std::string DossierJson(const compare::ItemComparison& item, const std::string& observations);

/// The finding, photos, departures and contradictions, a few short lines that end in a line end.
std::string DossierText(const compare::ItemComparison& item);

/// "Departs", or "not compared: " and why.
std::string OutcomeInWords(const compare::ItemPhoto& photo);

}  // namespace debossier::report
