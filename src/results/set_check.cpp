#include "results/set_check.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>

#include "base/unicode.h"
#include "base/version.h"
#include "results/json_parts.h"
#include "results/words.h"

namespace debossier::report {
std::string ReachInWords(double limit, const std::string& unit) {
  return unit == "degrees" ? Fixed(limit, 2) + "°" : Fixed(100 * limit, 1) + " %";
}

std::string VerdictInWords(const compare::SetCheck& check) {
  std::string odd;
  for (const auto& item : check.items) {
    if (!item.belongs) odd += (odd.empty() ? "" : ", ") + item.item;
  }
  if (!odd.empty()) return fmt::format("Does not belong with the other items: {}.", odd);
  if (check.division.two_dies) {
    return fmt::format("The items fall into two groups, as from two dies: {} and {}.",
                       fmt::join(check.division.first, ", "),
                       fmt::join(check.division.second, ", "));
  }
  if (check.items.empty()) return "Too few items to hold against each other.";
  return "No item stands out from the others.";
}

std::string SetCheckText(const compare::SetCheck& check) {
  std::string text;
  const auto line = [&](const std::string& words) { text += OneLine(words) + "\n"; };
  line(fmt::format("{} revision {}: {}", check.refset_id, check.refset_revision,
                   VerdictInWords(check)));
  for (const auto& item : check.items) {
    line(fmt::format("  {}: {} of what would be said{}; furthest off: {}, z {}", item.item,
                     Fixed(item.strength, 2), item.belongs ? "" : ", does not belong",
                     item.furthest, Fixed(item.furthest_z, 1, true)));
    for (const auto& reason : item.reasons) line("     " + reason.text);
  }
  const auto& division = check.division;
  if (division.tried) {
    line(fmt::format("  two dies: best division {} of what would be said: {} | {}",
                     Fixed(division.strength, 2), fmt::join(division.first, ", "),
                     fmt::join(division.second, ", ")));
    if (division.two_dies) {
      for (const auto& s : division.separations) line("     second group: " + s.text);
    }
  }
  if (!check.reach.empty()) {
    line(
        "  a departure that would show, in a good / usual / poor photo (median of the measure; % "
        "of cap height where it is a length):");
  }
  for (const auto& r : check.reach) {
    line(fmt::format("     {}: {} / {} / {}; worst: {}, {}", r.measure,
                     ReachInWords(r.good, r.unit), ReachInWords(r.usual, r.unit),
                     ReachInWords(r.poor, r.unit), r.worst_label, ReachInWords(r.worst, r.unit)));
  }
  for (const auto& need : check.needs) line("  Advice: " + need);
  return text;
}

std::string SetCheckJson(const compare::SetCheck& check) {
  Json json;
  json["format"] = "debossier-set-check";
  json["version"] = 2;
  json["program_version"] = kVersion;
  json["refset"] = {{"id", check.refset_id}, {"revision", check.refset_revision}};
  json["false_flag_rate"] = Number(check.false_flag_rate);
  json["is_consistent"] = check.is_consistent();
  json["verdict"] = VerdictInWords(check);
  json["items"] = Json::array();
  for (const auto& item : check.items) {
    Json reasons = Json::array();
    for (const auto& r : item.reasons) reasons.push_back(ReasonJson(r));
    json["items"].push_back({{"id", item.item},
                             {"belongs", item.belongs},
                             {"strength", Number(item.strength)},
                             {"furthest", item.furthest},
                             {"furthest_z", Number(item.furthest_z)},
                             {"reasons", std::move(reasons)}});
  }
  const auto& d = check.division;
  Json separations = Json::array();
  for (const auto& s : d.separations) {
    separations.push_back({{"measure", s.measure},
                           {"unit", s.unit},
                           {"difference", Number(s.difference)},
                           {"sentence", s.text}});
  }
  json["division"] = {{"tried", d.tried},       {"strength", Number(d.strength)},
                      {"two_dies", d.two_dies}, {"first", d.first},
                      {"second", d.second},     {"separations", separations}};
  json["detection_limits"] = Json::array();
  for (const auto& r : check.reach) {
    json["detection_limits"].push_back({{"measure", r.measure},
                                        {"unit", r.unit},
                                        {"features", r.features},
                                        {"good_photo", Number(r.good)},
                                        {"usual_photo", Number(r.usual)},
                                        {"poor_photo", Number(r.poor)},
                                        {"worst", r.worst_label},
                                        {"worst_limit", Number(r.worst)}});
  }
  json["advice"] = check.needs;
  return Printed(json);
}

}  // namespace debossier::report
