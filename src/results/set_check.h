// The outcome of checking a set, as text for the terminal and as JSON.
//
// JSON: "debossier-set-check", version 1; src/results/set-check.schema.json has its schema.
// Not for: computing; compare/check_set.h does that.
#pragma once

#include <string>

#include "compare/check_set.h"

namespace debossier::report {

/// A detection limit in words: "1.6 %", "0.5°".
std::string ReachInWords(double limit, const std::string& unit);
/// What the check says of the whole set, in one sentence.
std::string VerdictInWords(const compare::SetCheck& check);

std::string SetCheckText(const compare::SetCheck& check);
std::string SetCheckJson(const compare::SetCheck& check);

}  // namespace debossier::report
