// The result of one comparison as a JSON document, format "debossier-result", version 1.
//
// Other programs rely on its fields; src/results/result.schema.json describes them. Fields may be
// added within version 1, none is removed or changes its meaning.
// Frame and units: as in compare/comparison.h; u_... is a standard uncertainty (k = 1). Numbers
// have six significant digits; one that is not finite, or was not measured, is null. Not for:
// reading results back.
#pragma once

#include <string>

#include "compare/comparison.h"

namespace debossier::report {

/// The document in UTF-8, ending in a line end. The same comparison gives the same bytes; damaged
/// UTF-8 in labels is replaced by U+FFFD.
std::string ResultJson(const compare::Comparison& comparison);

}  // namespace debossier::report
