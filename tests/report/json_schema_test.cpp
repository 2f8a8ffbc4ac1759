// The test-side validator, held against cases of the JSON Schema specification's own wording.
#include "support/json_schema.h"

#include <gtest/gtest.h>

namespace debossier::test_support {
namespace {

using nlohmann::json;

// JSON Schema Validation 2020-12, sections 6.1 to 6.5.
TEST(JsonSchema, AcceptsAndRefusesAsTheSpecificationSays) {
  const json schema = R"({"type": "object", "required": ["a"], "properties": {
      "a": {"enum": ["x", "y"]}, "b": {"type": ["array", "null"], "minItems": 2,
      "items": {"$ref": "#/$defs/n"}}}, "$defs": {"n": {"type": "number", "maximum": 3}},
      "additionalProperties": {"type": "boolean"}})"_json;
  const auto errors = [&](const char* text) {
    return SchemaErrors(schema, json::parse(text)).size();
  };
  EXPECT_EQ(errors(R"({"a": "x"})"), 0u);
  EXPECT_EQ(errors(R"({"a": "x", "b": null, "c": true})"), 0u);
  EXPECT_EQ(errors(R"({"a": "x", "b": [1, 2.5]})"), 0u);
  EXPECT_EQ(errors(R"({})"), 1u);
  EXPECT_EQ(errors(R"({"a": "z"})"), 1u);
  EXPECT_EQ(errors(R"({"a": "x", "b": [1]})"), 1u);
  EXPECT_EQ(errors(R"({"a": "x", "b": [1, 4]})"), 1u);
  EXPECT_EQ(errors(R"({"a": "x", "b": [1, "2"]})"), 1u);
  EXPECT_EQ(errors(R"({"a": "x", "c": 1})"), 1u);
  EXPECT_EQ(errors(R"([])"), 1u);
  EXPECT_EQ(SchemaErrors(R"({"pattern": "x"})"_json, json("x")).size(), 1u);
}

}  // namespace
}  // namespace debossier::test_support
