#include "results/dossier_json.h"

#include <fmt/format.h>

#include "base/unicode.h"
#include "base/version.h"
#include "results/json_parts.h"
#include "results/words.h"

namespace debossier::report {

namespace {

using compare::ItemComparison;
using compare::ItemPhoto;
using compare::JointReason;
using compare::Together;

Json PhotoJson(const ItemPhoto& photo, std::size_t number) {
  Json json = {{"number", number},
               {"name", photo.name},
               {"refset", photo.refset_id},
               {"notes", photo.notes}};
  json["refusal"] = photo.refusal ? Json{{"code", ExitCode(photo.refusal->code)},
                                         {"message", photo.refusal->message},
                                         {"hint", photo.refusal->hint}}
                                  : Json();
  json["result"] = photo.comparison ? ResultDocument(*photo.comparison) : Json();
  return json;
}

Json JointReasonJson(const JointReason& joint) {
  Json json = ReasonJson(joint.reason);
  json["shown_best"] = joint.shown_best;
  json["said_by"] = joint.said_by;
  json["silent"] = Json::array();
  for (const auto& s : joint.silent) {
    json["silent"].push_back({{"photo", s.number}, {"chance_to_miss", Number(s.chance_to_miss)}});
  }
  json["withdrawn"] = joint.withdrawn;
  return json;
}

Json SetJson(const Together& t) {
  Json json = {{"refset", t.refset_id},  {"finding", compare::Name(t.finding)},
               {"summary", t.summary},   {"reasons", Json::array()},
               {"untold", t.untold},     {"contradictions", Json::array()},
               {"values", Json::array()}};
  for (const auto& joint : t.reasons) json["reasons"].push_back(JointReasonJson(joint));
  for (const auto& c : t.contradictions) {
    json["contradictions"].push_back({{"photos", c.photos}, {"text", c.text}});
  }
  for (const auto& joint : t.features) {
    Json value = FeatureJson(joint.feature);
    value["photos"] = joint.photos;
    json["values"].push_back(std::move(value));
  }
  return json;
}

}  // namespace

std::string DossierJson(const ItemComparison& item, const std::string& observations) {
  Json json = {{"format", "debossier-dossier"},
               {"version", 1},
               {"program", {{"name", "debossier"}, {"version", kVersion}}},
               {"finding", compare::Name(item.finding)},
               {"summary", item.summary},
               {"false_flag_rate", Number(item.false_flag_rate)},
               {"false_flag_rate_of_a_photo", Number(item.RateOfPhoto())},
               {"observations", observations},
               {"sets", Json::array()},
               {"photos", Json::array()},
               {"cautions", compare::Cautions()}};
  for (const Together& t : item.sets) json["sets"].push_back(SetJson(t));
  for (std::size_t i = 0; i < item.photos.size(); ++i) {
    json["photos"].push_back(PhotoJson(item.photos[i], i + 1));
  }
  return Printed(json);
}

std::string OutcomeInWords(const ItemPhoto& photo) {
  if (photo.comparison) return Headline(photo.comparison->finding);
  return "not compared: " + (photo.refusal ? photo.refusal->message : std::string());
}

std::string DossierText(const ItemComparison& item) {
  constexpr std::size_t kMostReasons = 5;
  std::string text;
  const auto line = [&](const std::string& words) { text += OneLine(words) + "\n"; };
  line(fmt::format(
      "{}, over {}", Headline(item.finding),
      item.photos.size() == 1 ? "1 photo" : fmt::format("{} photos", item.photos.size())));
  line("  " + item.summary);
  for (const Together& t : item.sets) {
    for (std::size_t i = 0; i < std::min(kMostReasons, t.reasons.size()); ++i) {
      const JointReason& joint = t.reasons[i];
      line(fmt::format("  {}. {} ({}{})", i + 1, joint.reason.text,
                       compare::PhotosInWords(joint.said_by),
                       joint.withdrawn ? "; withdrawn, others should show it and do not" : ""));
    }
    for (const auto& c : t.contradictions) line("  Contradiction: " + c.text);
  }
  for (std::size_t i = 0; i < item.photos.size(); ++i) {
    const ItemPhoto& photo = item.photos[i];
    line(fmt::format("  photo {}: {}, set {}: {}", i + 1, photo.name, photo.refset_id,
                     OutcomeInWords(photo)));
    if (photo.refusal && !photo.refusal->hint.empty()) line("    " + photo.refusal->hint);
  }
  line(fmt::format("  false-flag rate {} % over all photos, {} % for each",
                   Fixed(100 * item.false_flag_rate, 2), Fixed(100 * item.RateOfPhoto(), 3)));
  return text;
}

}  // namespace debossier::report
