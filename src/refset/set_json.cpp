#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "base/version.h"
#include "refset/refset.h"

namespace debossier::refset {

namespace {

using Json = nlohmann::ordered_json;

double Rounded(double v) { return std::round(v * 1e7) / 1e7; }

const char* KindName(outline::FrameKind kind) {
  switch (kind) {
    case outline::FrameKind::kEllipse:
      return "ellipse";
    case outline::FrameKind::kRectangle:
      return "rectangle";
    case outline::FrameKind::kNone:
      break;
  }
  return "none";
}

/// Values, their standard uncertainties, and the correlations below the diagonal, row by row.
Json PoseJson(const measure::Pose& pose) {
  Json value = Json::array();
  Json u = Json::array();
  Json correlation = Json::array();
  for (int k = 0; k < measure::kPoseValues; ++k) {
    value.push_back(Rounded(pose.value[k]));
    u.push_back(std::max(1e-6, Rounded(std::sqrt(pose.covariance(k, k)))));
    for (int l = 0; l < k; ++l) {
      const double r =
          pose.covariance(k, l) / std::sqrt(pose.covariance(k, k) * pose.covariance(l, l));
      correlation.push_back(std::round(r * 1e4) / 1e4);
    }
  }
  return {
      {"value", std::move(value)}, {"u", std::move(u)}, {"correlation", std::move(correlation)}};
}

Json SpreadJson(const LibrarySpread& spread) {
  Json elements = Json::array();
  for (int k = 0; k < measure::kPoseValues; ++k) elements.push_back(Rounded(spread.elements[k]));
  Json effects = Json::object();
  for (const auto& [name, deviation] : spread.effects) effects[name] = Rounded(deviation);
  return {{"sets", spread.sets},
          {"freedom", spread.freedom},
          {"elements", std::move(elements)},
          {"effects", std::move(effects)}};
}

/// Twelve significant digits: a pixel of the largest photo to a millionth.
double Precise(double v) { return std::stod(fmt::format("{:.12g}", v)); }

Json PlacementJson(const fit::Placement& placement) {
  Json rows = Json::array();
  for (int k = 0; k < 3; ++k) {
    const Eigen::RowVector3d row = placement.photo_from_stamp.row(k);
    rows.push_back(Json::array({Precise(row[0]), Precise(row[1]), Precise(row[2])}));
  }
  const fit::SmoothStretch& s = placement.stretch;
  return {{"photo_from_stamp", std::move(rows)},
          {"stretch",
           {{"centre", Precise(s.centre)},
            {"half_length", Precise(s.half_length)},
            {"along", {Precise(s.along[0]), Precise(s.along[1])}},
            {"across", {Precise(s.across[0]), Precise(s.across[1])}}}}};
}

/// Lines, frame and elements.
void AddLettering(const RefSet& set, Json& j) {
  for (const auto& l : set.lettering.lines) {
    j["lines"].push_back({{"id", l.id},
                          {"text", l.text},
                          {"baseline", Rounded(l.baseline)},
                          {"cap_height", Rounded(l.cap_height)},
                          {"x_height", Rounded(l.x_height)}});
  }
  const outline::Frame& f = set.lettering.frame;
  j["frame"]["kind"] = KindName(f.kind);
  if (f.kind != outline::FrameKind::kNone) {
    j["frame"]["centre"] = {Rounded(f.centre.x()), Rounded(f.centre.y())};
    j["frame"]["radius"] = {Rounded(f.radius.x()), Rounded(f.radius.y())};
    j["frame"]["line_weight"] = Rounded(f.line_weight);
    j["frame"]["line"] = f.line_idx;
  }
  for (std::size_t i = 0; i < set.lettering.elements.size(); ++i) {
    const auto& e = set.lettering.elements[i];
    const outline::Box box = outline::Bounds(e.outline);
    const double baseline = set.lettering.lines[e.line_idx].baseline;
    const outline::Point origin =
        i < set.origins.size() ? set.origins[i] : outline::Point(box.min.x(), baseline);
    j["elements"].push_back({{"id", e.id},
                             {"line", e.line_idx},
                             {"kind", e.kind == outline::ElementKind::kMark ? "mark" : "letter"},
                             {"char", e.character},
                             {"glyph", e.id},
                             {"origin", {Rounded(origin.x()), Rounded(origin.y())}}});
  }
}

/// The items and those that were retired.
void AddItems(const RefSet& set, Json& j) {
  j["items"] = Json::array();
  for (const auto& item : set.items) {
    Json features = Json::object();
    for (const auto& [key, m] : item.features) {
      features[key] = {{"value", Rounded(m.value)}, {"u", Rounded(m.u)}};
    }
    Json poses = Json::object();
    for (const auto& [id, pose] : item.poses) poses[id] = PoseJson(pose);
    j["items"].push_back(
        {{"id", item.id},
         {"photo",
          {{"file", item.photo_file}, {"sha256", item.photo_sha256}, {"kept", item.photo_kept}}},
         {"basis", item.basis},
         {"entered", {{"by", item.entered_by}, {"on", item.entered_on}}},
         {"quality",
          {{"cap_height_px", Rounded(item.cap_height_px)},
           {"blur_px", Rounded(item.blur_px)},
           {"coverage", Rounded(item.coverage)}}},
         {"grain", item.grain},
         {"features", std::move(features)},
         {"poses", std::move(poses)}});
    if (item.placement) j["items"].back()["placement"] = PlacementJson(*item.placement);
  }
  j["retired"] = Json::array();
  for (const auto& item : set.retired) {
    j["retired"].push_back({{"id", item.id},
                            {"photo", {{"file", item.photo_file}, {"sha256", item.photo_sha256}}},
                            {"basis", item.basis},
                            {"reason", item.reason},
                            {"by", item.by},
                            {"on", item.on}});
  }
}

}  // namespace

std::string SetJson(const RefSet& set) {
  Json j;
  j["format"] = kFormatName;
  j["version"] = kFormatVersion;
  j["program"] = {{"version", kVersion}};
  j["id"] = set.id;
  j["revision"] = set.revision;
  j["previous"] = {{"revision", set.previous_revision}, {"sha256", set.previous_sha256}};
  j["change"] = {{"kind", set.change.kind},   {"by", set.change.by},
                 {"on", set.change.on},       {"reason", set.change.reason},
                 {"items", set.change.items}, {"undone_to", set.change.undone_to}};
  j["labels"] = {
      {"maker", set.labels.maker}, {"period", set.labels.period}, {"notes", set.labels.notes}};
  j["entered"] = {{"by", set.labels.entered_by}, {"on", set.labels.entered_on}};
  j["simulated"] = set.simulated;
  j["free_aspect"] = set.free_aspect;
  j["source"] = set.source;
  j["outlines"] = {{"name", set.outlines_name},
                   {"sha256", set.outlines_sha256},
                   {"edited", set.outlines_edited}};
  j["asks"] = {{"place", Rounded(set.asks.place)}, {"size", Rounded(set.asks.size)}};
  if (!set.asks.essential.empty()) j["asks"]["essential"] = set.asks.essential;
  if (!set.library_spread.sets.empty()) j["library_spread"] = SpreadJson(set.library_spread);
  j["mark"] = set.mark;
  AddLettering(set, j);
  AddItems(set, j);
  return j.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace debossier::refset
