// Parts that the JSON documents share.
#pragma once

#include <nlohmann/json.hpp>

#include "compare/comparison.h"

namespace debossier::report {

using Json = nlohmann::ordered_json;

/// Six significant digits; null where the number is not finite.
Json Number(double value);
Json ReasonJson(const compare::Reason& reason);

}  // namespace debossier::report
