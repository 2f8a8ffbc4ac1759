#include "support/json_schema.h"

#include <set>

namespace debossier::test_support {
namespace {

using nlohmann::json;

class Validator {
 public:
  explicit Validator(const json& root) : root_(root) {}

  void Check(const json& schema, const json& value, const std::string& at) {
    static const std::set<std::string> kKnown = {
        "$schema",    "title",    "description", "$defs",
        "$ref",       "type",     "required",    "enum",
        "properties", "minimum",  "maximum",     "items",
        "minItems",   "maxItems", "const",       "additionalProperties"};
    for (const auto& [keyword, unused] : schema.items()) {
      if (!kKnown.contains(keyword)) errors.push_back(at + ": unknown keyword " + keyword);
    }
    if (schema.contains("$ref")) Check(Resolve(schema["$ref"]), value, at);
    if (schema.contains("type") && !HasType(schema["type"], value)) {
      errors.push_back(at + ": wrong type");
    }
    if (schema.contains("const") && schema["const"] != value) errors.push_back(at + ": not const");
    if (schema.contains("enum") && !Holds(schema["enum"], value)) {
      errors.push_back(at + ": not in enum");
    }
    if (value.is_number()) CheckNumber(schema, value, at);
    if (value.is_array()) CheckArray(schema, value, at);
    if (value.is_object()) CheckObject(schema, value, at);
  }

  std::vector<std::string> errors;

 private:
  static bool Holds(const json& list, const json& value) {
    return std::find(list.begin(), list.end(), value) != list.end();
  }

  const json& Resolve(const std::string& reference) {
    return root_.at(json::json_pointer(reference.substr(1)));
  }

  static bool IsOfType(const std::string& type, const json& value) {
    if (type == "integer") return value.is_number_integer();
    if (type == "number") return value.is_number();
    if (type == "string") return value.is_string();
    if (type == "boolean") return value.is_boolean();
    if (type == "array") return value.is_array();
    if (type == "object") return value.is_object();
    return type == "null" && value.is_null();
  }

  static bool HasType(const json& types, const json& value) {
    if (types.is_string()) return IsOfType(types, value);
    return std::any_of(types.begin(), types.end(),
                       [&](const json& type) { return IsOfType(type, value); });
  }

  void CheckNumber(const json& schema, const json& value, const std::string& at) {
    if (schema.contains("minimum") && value < schema["minimum"]) errors.push_back(at + ": low");
    if (schema.contains("maximum") && value > schema["maximum"]) errors.push_back(at + ": high");
  }

  void CheckArray(const json& schema, const json& value, const std::string& at) {
    if (schema.contains("minItems") && value.size() < schema["minItems"]) {
      errors.push_back(at + ": too few items");
    }
    if (schema.contains("maxItems") && value.size() > schema["maxItems"]) {
      errors.push_back(at + ": too many items");
    }
    if (!schema.contains("items")) return;
    for (std::size_t i = 0; i < value.size(); ++i) {
      Check(schema["items"], value[i], at + "/" + std::to_string(i));
    }
  }

  void CheckObject(const json& schema, const json& value, const std::string& at) {
    for (const json& name : schema.value("required", json::array())) {
      if (!value.contains(name.get<std::string>())) {
        errors.push_back(at + ": lacks " + name.get<std::string>());
      }
    }
    const json properties = schema.value("properties", json::object());
    for (const auto& [name, member] : value.items()) {
      if (properties.contains(name)) {
        Check(properties[name], member, at + "/" + name);
      } else if (schema.contains("additionalProperties")) {
        Check(schema["additionalProperties"], member, at + "/" + name);
      }
    }
  }

  const json& root_;
};

}  // namespace

std::vector<std::string> SchemaErrors(const json& schema, const json& value) {
  Validator validator(schema);
  validator.Check(schema, value, "");
  return validator.errors;
}

}  // namespace debossier::test_support
