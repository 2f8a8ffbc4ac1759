// Validates JSON against a schema, for the keywords that the schemas of this program use.
//
// Source: JSON Schema draft 2020-12 (json-schema.org). A keyword this file does not know is an
// error, so that no part of a schema goes unchecked.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace debossier::test_support {

/// One line for each place where `value` breaks `schema`.
std::vector<std::string> SchemaErrors(const nlohmann::json& schema, const nlohmann::json& value);

}  // namespace debossier::test_support
