// A short plain-text summary of one comparison, for standard output.
//
// Not for: programs; they read the JSON result.
#pragma once

#include <string>

#include "compare/comparison.h"

namespace debossier::report {

/// The finding, the reasons, advice and key numbers, a few short lines that end in a line end.
/// Control characters in labels and file names are replaced.
std::string TextSummary(const compare::Comparison& comparison);

}  // namespace debossier::report
