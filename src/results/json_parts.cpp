#include "results/json_parts.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>

namespace debossier::report {

Json Number(double value) {
  if (!std::isfinite(value)) return nullptr;
  const std::string text = fmt::format("{:.6g}", value);
  double rounded = 0;
  std::from_chars(text.data(), text.data() + text.size(), rounded);
  return rounded == 0 ? 0.0 : rounded;  // no minus zero
}

Json ReasonJson(const compare::Reason& reason) {
  return {{"measure", reason.measure},
          {"elements", reason.elements},
          {"value", Number(reason.value)},
          {"u", Number(reason.u)},
          {"unit", reason.unit},
          {"z", Number(reason.z)},
          {"level", Number(reason.level)},
          {"p", reason.p ? Number(*reason.p) : Json()},
          {"effect", Number(reason.effect)},
          {"text", reason.text}};
}

std::string Printed(const Json& json) {
  return json.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace debossier::report
