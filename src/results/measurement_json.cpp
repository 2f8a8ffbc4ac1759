#include "results/measurement_json.h"

#include <nlohmann/json.hpp>

#include "base/version.h"
#include "results/result_json.h"

namespace debossier::report {

std::string MeasurementJson(const compare::Comparison& comparison) {
  auto json = nlohmann::ordered_json::parse(ResultJson(comparison));
  json["format"] = "debossier-measurement";
  json["version"] = 1;
  json["program"] = {{"version", kVersion}};
  for (const char* field :
       {"refset", "finding", "summary", "own_item", "score", "reasons", "features", "hypotheses",
        "detection_limits", "options", "false_flag_rate", "advice"}) {
    json.erase(field);
  }
  return json.dump(2) + "\n";
}

}  // namespace debossier::report
