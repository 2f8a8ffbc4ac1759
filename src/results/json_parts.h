// Parts that the JSON documents share.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "compare/comparison.h"

namespace debossier::report {

using Json = nlohmann::ordered_json;

/// Six significant digits; null where the number is not finite.
Json Number(double value);
Json ReasonJson(const compare::Reason& reason);
Json FeatureJson(const compare::Feature& feature);
/// The whole document of result_json.h.
Json ResultDocument(const compare::Comparison& comparison);

/// As text that ends in a line end; damaged UTF-8 is replaced by U+FFFD.
std::string Printed(const Json& json);

}  // namespace debossier::report
