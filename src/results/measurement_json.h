// The measurements of one photo without a reference set, format "debossier-measurement", version 1.
//
// The fields that measuring and comparing share are those of result_json.h.
// Not for: reading measurements back.
#pragma once

#include <string>

#include "compare/comparison.h"

namespace debossier::report {

/// Prints `comparison.measured`; finding, reasons and reference set are left out.
std::string MeasurementJson(const compare::Comparison& comparison);

}  // namespace debossier::report
