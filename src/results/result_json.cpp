#include "results/result_json.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <utility>

#include "compare/statistics.h"
#include "results/json_parts.h"
#include "results/words.h"

namespace debossier::report {
namespace {

using compare::Comparison;
using compare::Feature;
using measure::Point;

Json NumberPair(const Point& p) { return Json::array({Number(p.x()), Number(p.y())}); }

// `name` and `u_name`; nulls where the value was not measured.
void Put(Json& object, const std::string& name, const Measured& measured, bool is_known = true) {
  object[name] = is_known ? Number(measured.value) : Json();
  object["u_" + name] = is_known ? Number(measured.u) : Json();
}

Json QualityJson(const Comparison& comparison) {
  const measure::Quality& q = comparison.measured.quality;
  return {{"cap_height_px", Number(q.cap_height_px)}, {"blur_px", Number(q.blur_px)},
          {"tilt_deg", Number(q.tilt_deg)},           {"turn_deg", Number(q.turn_deg)},
          {"coverage", Number(q.coverage)},           {"contrast", Number(q.contrast)},
          {"anisotropy", Number(q.anisotropy)},       {"advice", AllAdvice(comparison)}};
}

const char* FrameKindName(outline::FrameKind kind) {
  switch (kind) {
    case outline::FrameKind::kNone:
      return "none";
    case outline::FrameKind::kEllipse:
      return "ellipse";
    case outline::FrameKind::kRectangle:
      return "rectangle";
  }
  DEBOSSIER_ASSERT(!"a frame kind outside its enumeration");
}

Json FrameJson(const measure::FrameMeasurement& frame) {
  Json json = {{"kind", FrameKindName(frame.kind)},
               {"decided", frame.decided},
               {"seen", Number(frame.seen)}};
  if (frame.kind == outline::FrameKind::kNone) return json;
  Put(json, "half_width", frame.half_width);
  Put(json, "half_height", frame.half_height);
  Put(json, "line_weight", frame.line_weight);
  Put(json, "clearance", frame.clearance);
  return json;
}

Json LineJson(const measure::LineMeasurement& line) {
  Json json = {{"id", line.id}, {"text", line.text}, {"case", measure::Name(line.line_case)}};
  // A line without capitals (or small letters) has no such height: 0 with u = 0 in the measurement.
  Put(json, "cap_height", line.cap_height, line.cap_height.value > 0);
  Put(json, "x_height", line.x_height, line.x_height.value > 0);
  Put(json, "height_ratio", line.height_ratio);
  Put(json, "relative_size", line.relative_size);
  Put(json, "offset_x", line.offset_x);
  Put(json, "offset_y", line.offset_y);
  Put(json, "tracking", line.tracking);
  return json;
}

Json ShapeJson(const measure::ShapeDistance& shape) {
  return {{"rms", Number(shape.rms)},
          {"p95", Number(shape.p95)},
          {"missing", Number(shape.missing)},
          {"extra", Number(shape.extra)},
          {"smooth_rms", Number(shape.smooth_rms)},
          {"u_smooth_rms", Number(shape.u)},
          {"inward_rms", Number(shape.signed_missing_rms)},
          {"outward_rms", Number(shape.signed_extra_rms)}};
}

const char* SeenAs(const measure::ElementMeasurement& element) {
  return element.found      ? "measured"
         : element.read     ? "read"
         : element.in_place ? "in-place"
         : element.cut      ? "cut"
                            : "not-found";
}

Json ElementJson(const measure::ElementMeasurement& element, const std::string& line_id) {
  const bool found = element.found;
  Json json = {{"id", element.id},
               {"line", line_id},
               {"char", element.character},
               {"found", found},
               {"seen", SeenAs(element)},
               {"found_as", element.found_as},
               {"case", measure::Name(element.letter_case)}};
  const measure::Box& box = element.box;
  json["box"] = found && !box.empty() ? Json::array({Number(box.min.x()), Number(box.min.y()),
                                                     Number(box.max.x()), Number(box.max.y())})
                                      : Json();
  Put(json, "height_ratio", element.height_ratio, found);
  json["shape"] = found ? ShapeJson(element.shape) : Json();
  Json quad = Json::array();
  for (const Point& corner : element.quad_px) quad.push_back(NumberPair(corner));
  json["quad_px"] = found ? quad : Json();
  json["u_centre"] = found ? NumberPair(element.u_centre) : Json();
  json["u_size"] = found ? NumberPair(element.u_size) : Json();
  json["offset"] = found ? NumberPair(element.offset) : Json();
  Put(json, "width", element.width, found);
  Put(json, "relative_height", element.relative_height, found);
  Put(json, "relative_width", element.relative_width, found);
  Put(json, "stroke", element.stroke, found);
  Put(json, "slant_deg", element.slant_deg, found);
  Put(json, "base_offset", element.base_offset, found);
  return json;
}

Json ElementsJson(const measure::Measurements& measured) {
  Json elements = Json::array();
  for (const measure::ElementMeasurement& element : measured.elements) {
    const auto line = static_cast<std::size_t>(element.line_idx);
    elements.push_back(
        ElementJson(element, line < measured.lines.size() ? measured.lines[line].id : ""));
  }
  return elements;
}

Json GapsJson(const Comparison& comparison) {
  std::map<std::pair<std::string, std::string>, const Feature*> features;
  for (const Feature& feature : comparison.features) {
    if (feature.measure == "gap" && feature.elements.size() == 2) {
      features.emplace(std::pair(feature.elements[0], feature.elements[1]), &feature);
    }
  }
  Json gaps = Json::array();
  for (const measure::GapMeasurement& gap : comparison.measured.gaps) {
    const auto feature = features.find({gap.left, gap.right});
    const bool compared = feature != features.end();
    Json json = {{"left", gap.left},
                 {"right", gap.right},
                 {"value", Number(gap.value.value)},
                 {"u", Number(gap.value.u)},
                 {"expected", compared ? Number(feature->second->expected) : Json()},
                 {"spread", compared ? Number(feature->second->spread) : Json()}};
    Put(json, "kerning", gap.kerning);
    gaps.push_back(std::move(json));
  }
  return gaps;
}

Json MarkJson(const measure::MarkMeasurement& mark) {
  const bool found = mark.found;
  Json json = {{"kind", mark.kind.empty() ? "none" : mark.kind},
               {"found", found},
               {"seen", mark.seen.empty() ? Json() : Json(mark.seen)},
               {"gap", found ? Number(mark.gap.value) : Json()},
               {"size", found ? Number(mark.size.value) : Json()},
               {"rise", found ? Number(mark.rise.value) : Json()},
               {"u", found ? Number(mark.gap.u) : Json()},
               {"u_gap", found ? Number(mark.gap.u) : Json()},
               {"u_size", found ? Number(mark.size.u) : Json()},
               {"u_rise", found ? Number(mark.rise.u) : Json()}};
  return json;
}

}  // namespace

Json FeatureJson(const Feature& f) {
  Json items = Json::array();
  for (const double item : f.items) items.push_back(Number(item));
  return {{"measure", f.measure},
          {"elements", f.elements},
          {"label", f.label},
          {"unit", f.unit},
          {"value", Number(f.value)},
          {"u", Number(f.u)},
          {"expected", Number(f.expected)},
          {"spread", Number(f.spread)},
          {"z", Number(f.z)},
          {"departs", f.departs},
          {"items", std::move(items)}};
}

namespace {

Json SentenceJson(const compare::TriedSentence& s) {
  Json json = {{"key", s.key},
               {"measure", s.measure},
               {"elements", s.elements},
               {"label", s.label},
               {"unit", s.unit},
               {"amplitude", Number(s.amplitude)},
               {"u", Number(s.u)},
               {"z", Number(s.z)},
               {"level", Number(s.level)},
               {"p", s.p ? Number(*s.p) : Json()},
               {"limit", Number(s.limit)},
               {"departs", s.departs},
               {"decidable", s.decidable},
               {"sentence", s.text}};
  if (s.beyond) {
    const auto interval = compare::WilsonInterval(s.beyond->beyond, s.beyond->photos);
    json["genuine_beyond"] = {{"beyond", s.beyond->beyond},
                              {"photos", s.beyond->photos},
                              {"low", Number(interval.low)},
                              {"high", Number(interval.high)}};
  }
  return json;
}

Json CountJson(const compare::MeasuredShare& share) {
  return {{"flagged", share.beyond}, {"photos", share.photos}};
}

Json CategoryJson(const compare::CategoryTrial& t) {
  return {{"category", compare::Name(t.category)},
          {"subject", t.subject},
          {"size_px", Number(t.size_px)},
          {"blur", Number(t.blur)},
          {"seen", t.seen},
          {"may_be_said", t.may_be_said},
          {"would_show", t.would_show},
          {"genuine", CountJson(t.genuine)},
          {"departing", CountJson(t.departing)}};
}

Json PlacementJson(const fit::Placement& placement) {
  Json rows = Json::array();
  for (int r = 0; r < 3; ++r) {
    Json row = Json::array();
    for (int k = 0; k < 3; ++k) row.push_back(Number(placement.photo_from_stamp(r, k)));
    rows.push_back(std::move(row));
  }
  const fit::SmoothStretch& s = placement.stretch;
  return {{"photo_from_stamp", std::move(rows)},
          {"stretch",
           {{"centre", Number(s.centre)},
            {"half_length", Number(s.half_length)},
            {"along", {Number(s.along[0]), Number(s.along[1])}},
            {"across", {Number(s.across[0]), Number(s.across[1])}}}}};
}

Json ScaleJson(const card::Scale& scale) {
  const bool known = scale.is_known();
  Json json = {{"method", card::Name(scale.method)}};
  Put(json, "mm_per_cap_height", scale.mm_per_cap_height, known);
  json["along_mm"] = known ? Number(scale.along_mm) : Json();
  json["across_mm"] = known ? Number(scale.across_mm) : Json();
  json["px_per_mm"] = known ? Number(scale.px_per_mm) : Json();
  json["terms"] = Json::object();
  for (const card::ScaleTerm& term : scale.terms) json["terms"][term.name] = Number(term.u);
  if (scale.method == card::ScaleMethod::kCard) {
    json["card"] = {{"version", scale.card_version},
                    {"marks_seen", scale.marks_seen},
                    {"marks_total", scale.marks_total},
                    {"residual_mm", Number(scale.residual_mm)}};
  }
  json["warnings"] = Json::array();
  for (const Warning& w : scale.warnings) json["warnings"].push_back(w.message);
  json["limits"] = scale.limits;
  return json;
}

Json HeaderJson(const Comparison& c) {
  return {{"format", "debossier-result"},
          {"version", 2},
          {"photo",
           {{"file", c.photo.file},
            {"sha256", c.photo.sha256},
            {"width", c.photo.width},
            {"height", c.photo.height},
            {"focal_length_35mm",
             c.photo.focal_length_35mm ? Json(*c.photo.focal_length_35mm) : Json()}}},
          {"refset",
           {{"id", c.refset_id},
            {"revision", c.refset_revision},
            {"maker", c.refset_maker},
            {"period", c.refset_period},
            {"items", c.refset_items},
            {"simulated", c.refset_simulated}}},
          {"program", {{"name", "debossier"}, {"version", c.program_version}}},
          {"finding", compare::Name(c.finding)},
          {"summary", c.summary},
          {"own_item", c.own_item},
          {"score", Number(c.score)}};
}

Json OptionsJson(const Comparison& c) {
  Json options = Json::object();
  for (const auto& [name, value] : c.options) options[name] = value;
  return options;
}

}  // namespace

Json ResultDocument(const Comparison& c) {
  Json json = HeaderJson(c);
  json["reasons"] = Json::array();
  for (const auto& reason : c.reasons) json["reasons"].push_back(ReasonJson(reason));
  json["quality"] = QualityJson(c);
  json["frame"] = FrameJson(c.measured.frame);
  json["lines"] = Json::array();
  for (const auto& line : c.measured.lines) json["lines"].push_back(LineJson(line));
  json["elements"] = ElementsJson(c.measured);
  json["gaps"] = GapsJson(c);
  json["mark"] = MarkJson(c.measured.mark);
  json["gain"] = {{"value", Number(c.measured.gain.value)}, {"u", Number(c.measured.gain.u)}};
  json["detection_limits"] = Json::object();
  for (const MeasureLimit& limit : LargestLimits(c)) {
    json["detection_limits"][limit.measure] = Number(limit.largest);
  }
  json["cautions"] = compare::Cautions();
  json["false_flag_rate"] = Number(c.false_flag_rate);
  json["options"] = OptionsJson(c);
  json["placement"] = PlacementJson(c.measured.placement);
  if (c.scale) json["scale"] = ScaleJson(*c.scale);
  json["hypotheses"] = Json::array();
  for (const auto& sentence : c.sentences) json["hypotheses"].push_back(SentenceJson(sentence));
  json["categories"] = Json::array();
  for (const auto& trial : c.categories) json["categories"].push_back(CategoryJson(trial));
  json["features"] = Json::array();
  for (const Feature& feature : c.features) json["features"].push_back(FeatureJson(feature));
  json["warnings"] = Json::array();
  for (const Warning& w : c.measured.warnings) {
    json["warnings"].push_back({{"stage", w.stage}, {"where", w.where}, {"message", w.message}});
  }
  return json;
}

std::string ResultJson(const Comparison& c) { return Printed(ResultDocument(c)); }

}  // namespace debossier::report
