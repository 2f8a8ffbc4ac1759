#include <fmt/format.h>

#include <Eigen/Cholesky>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>

#include "refset/refset.h"

namespace debossier::refset {

namespace {

// Sorted, not ordered: the ordered kind looks through all keys for each new one, and a hostile file
// may have a million.
using Json = nlohmann::json;

constexpr int kMaxDepth = 24;
constexpr std::size_t kMaxValues = 1'000'000;
constexpr std::size_t kMaxElements = 400;
constexpr std::size_t kMaxItems = 2000;
constexpr std::size_t kMostGrain = 50'000;

/// Reads fields with their types and limits checked; the first fault stays.
class Reader {
 public:
  explicit Reader(std::string where) : where_(std::move(where)) {}

  void Fail(const std::string& what) {
    if (fault_.empty()) fault_ = what;
  }
  bool ok() const { return fault_.empty(); }
  Unexpected Refusal() const {
    return Refuse(ErrorCode::kSetUnreadable, "refset", where_, fault_,
                  "restore the file from a backup, or build the set again from its photos");
  }

  const Json& Field(const Json& in, const char* name) {
    static const Json null;
    if (!in.is_object() || !in.contains(name)) {
      Fail(fmt::format("the field \"{}\" is missing", name));
      return null;
    }
    return in[name];
  }
  std::string Text(const Json& in, const char* name, std::size_t most = 4000) {
    const Json& f = Field(in, name);
    if (!ok()) return {};
    if (!f.is_string() || f.get_ref<const std::string&>().size() > most) {
      Fail(fmt::format("the field \"{}\" is not a text of at most {} bytes", name, most));
      return {};
    }
    return f.get<std::string>();
  }
  double Number(const Json& in, const char* name, double limit = 1e6) {
    return Finite(Field(in, name), name, limit);
  }
  double Finite(const Json& f, const char* name, double limit) {
    if (!ok()) return 0;
    const double v = f.is_number() ? f.get<double>() : std::nan("");
    if (!(std::abs(v) <= limit)) {
      Fail(fmt::format("the field \"{}\" is not a number up to {:g}", name, limit));
      return 0;
    }
    return v;
  }
  int Integer(const Json& in, const char* name, int least, int most) {
    const Json& f = Field(in, name);
    if (!ok()) return least;
    if (!f.is_number_integer() || f.get<double>() < least || f.get<double>() > most) {
      Fail(fmt::format("the field \"{}\" is not a whole number from {} to {}", name, least, most));
      return least;
    }
    return f.get<int>();
  }
  bool Flag(const Json& in, const char* name) {
    const Json& f = Field(in, name);
    if (ok() && !f.is_boolean()) Fail(fmt::format("the field \"{}\" is not true or false", name));
    return ok() && f.get<bool>();
  }
  outline::Point Pair(const Json& in, const char* name) {
    const Json& f = Field(in, name);
    if (!ok()) return {0, 0};
    if (!f.is_array() || f.size() != 2) {
      Fail(fmt::format("the field \"{}\" is not a pair of numbers", name));
      return {0, 0};
    }
    return {Finite(f[0], name, 1e4), Finite(f[1], name, 1e4)};
  }
  const Json& List(const Json& in, const char* name, std::size_t most) {
    static const Json none = Json::array();
    const Json& f = Field(in, name);
    if (!ok()) return none;
    if (!f.is_array() || f.size() > most) {
      Fail(fmt::format("the field \"{}\" is not a list of at most {}", name, most));
      return none;
    }
    return f;
  }

 private:
  std::string where_;
  std::string fault_;
};

void ReadLines(const Json& j, Reader& r, ParsedSet& out) {
  for (const auto& l : r.List(j, "lines", 20)) {
    outline::Line line;
    line.id = r.Text(l, "id", 64);
    line.text = r.Text(l, "text", 400);
    line.baseline = r.Number(l, "baseline", 1e4);
    line.cap_height = r.Number(l, "cap_height", 1e4);
    line.x_height = r.Number(l, "x_height", 1e4);
    out.set.lettering.lines.push_back(line);
  }
  if (r.ok() && out.set.lettering.lines.empty()) r.Fail("the set has no lines");
}

void ReadFrame(const Json& j, Reader& r, ParsedSet& out) {
  const Json& f = r.Field(j, "frame");
  const std::string kind = r.Text(f, "kind", 20);
  outline::Frame& frame = out.set.lettering.frame;
  if (kind == "none" || !r.ok()) return;
  if (kind != "ellipse" && kind != "rectangle") {
    r.Fail("the frame's kind is not none, ellipse or rectangle");
    return;
  }
  frame.kind = kind == "ellipse" ? outline::FrameKind::kEllipse : outline::FrameKind::kRectangle;
  frame.centre = r.Pair(f, "centre");
  frame.radius = r.Pair(f, "radius");
  frame.line_weight = r.Number(f, "line_weight", 100);
  frame.line_idx = r.Integer(f, "line", -1, 19);
  if (r.ok() && (frame.radius.minCoeff() <= 0 || frame.line_weight <= 0)) {
    r.Fail("the frame has no extent");
  }
}

void ReadElements(const Json& j, Reader& r, ParsedSet& out) {
  const int lines = static_cast<int>(out.set.lettering.lines.size());
  for (const auto& e : r.List(j, "elements", kMaxElements)) {
    outline::Element element;
    element.id = r.Text(e, "id", 100);
    element.line_idx = r.Integer(e, "line", 0, std::max(0, lines - 1));
    const std::string kind = r.Text(e, "kind", 20);
    if (r.ok() && kind != "letter" && kind != "mark") r.Fail("an element is no letter and no mark");
    element.kind = kind == "mark" ? outline::ElementKind::kMark : outline::ElementKind::kLetter;
    element.character = r.Text(e, "char", 16);
    ParsedSet::Glyph glyph;
    glyph.name = r.Text(e, "glyph", 200);
    glyph.origin = r.Pair(e, "origin");
    out.set.lettering.elements.push_back(std::move(element));
    out.glyphs.push_back(std::move(glyph));
  }
  if (r.ok() && out.glyphs.empty()) r.Fail("the set has no elements");
}

LibrarySpread ReadSpread(const Json& j, Reader& r) {
  LibrarySpread spread;
  for (const auto& name : r.List(j, "sets", 1000)) {
    if (!name.is_string()) r.Fail("a set of the library's spread has no name");
    if (r.ok()) spread.sets.push_back(name.get<std::string>());
  }
  spread.freedom = r.Integer(j, "freedom", 1, 1'000'000);
  const Json& elements = r.List(j, "elements", measure::kPoseValues);
  const Json& effects = r.Field(j, "effects");
  if (!r.ok()) return spread;
  if (elements.size() != static_cast<std::size_t>(measure::kPoseValues) || !effects.is_object() ||
      effects.size() > 100) {
    r.Fail("the library's spread does not have five values and named effects");
    return spread;
  }
  const auto deviation = [&r](const Json& v, const char* name) {
    const double d = r.Finite(v, name, 1);
    if (r.ok() && !(d > 0)) r.Fail("a spread of the library is not above 0");
    return d;
  };
  for (int k = 0; k < measure::kPoseValues; ++k) {
    spread.elements[k] = deviation(elements[static_cast<std::size_t>(k)], "elements");
  }
  for (const auto& [name, value] : effects.items()) {
    spread.effects[name] = deviation(value, "effects");
  }
  return spread;
}

/// Writers round correlations: what is no covariance by less than that is drawn in.
measure::Pose ReadPose(const Json& j, Reader& r) {
  constexpr std::size_t kValues = measure::kPoseValues;
  measure::Pose pose;
  const Json& value = r.List(j, "value", kValues);
  const Json& u = r.List(j, "u", kValues);
  const Json& correlation = r.List(j, "correlation", kValues * (kValues - 1) / 2);
  if (!r.ok()) return pose;
  if (value.size() != kValues || u.size() != kValues ||
      correlation.size() != kValues * (kValues - 1) / 2) {
    r.Fail("a pose does not have five values, their uncertainties and correlations");
    return pose;
  }
  measure::PoseVector deviation;
  measure::PoseMatrix correlations = measure::PoseMatrix::Identity();
  std::size_t next = 0;
  for (int k = 0; k < measure::kPoseValues; ++k) {
    pose.value[k] = r.Finite(value[static_cast<std::size_t>(k)], "value", 1e4);
    deviation[k] = std::max(1e-6, std::abs(r.Finite(u[static_cast<std::size_t>(k)], "u", 1e4)));
    for (int l = 0; l < k; ++l) {
      correlations(k, l) = correlations(l, k) =
          0.999 * r.Finite(correlation[next++], "correlation", 1);
    }
  }
  if (Eigen::LLT<measure::PoseMatrix>(correlations).info() != Eigen::Success) {
    r.Fail("the correlations of a pose contradict each other");
  }
  pose.covariance = deviation.asDiagonal() * correlations * deviation.asDiagonal();
  return pose;
}

/// Draws a picture and decides nothing; still, what it maps must be numbers and no singular map.
fit::Placement ReadPlacement(const Json& in, Reader& r) {
  constexpr double kMost = 1e9;
  fit::Placement placement;
  const Json& rows = r.List(in, "photo_from_stamp", 3);
  if (r.ok() && rows.size() != 3) r.Fail("a placement has not three rows");
  for (int k = 0; r.ok() && k < 3; ++k) {
    const Json& row = rows[static_cast<std::size_t>(k)];
    if (!row.is_array() || row.size() != 3) {
      r.Fail("a placement has not three columns");
      break;
    }
    for (int l = 0; l < 3; ++l) {
      placement.photo_from_stamp(k, l) =
          r.Finite(row[static_cast<std::size_t>(l)], "photo_from_stamp", kMost);
    }
  }
  const Json& stretch = r.Field(in, "stretch");
  placement.stretch.centre = r.Number(stretch, "centre", kMost);
  placement.stretch.half_length = r.Number(stretch, "half_length", kMost);
  const outline::Point along = r.Pair(stretch, "along");
  const outline::Point across = r.Pair(stretch, "across");
  placement.stretch.along = {along.x(), along.y()};
  placement.stretch.across = {across.x(), across.y()};
  if (!r.ok()) return placement;
  if (!(std::abs(placement.photo_from_stamp.determinant()) > 1e-9) ||
      !(placement.stretch.half_length > 1e-6)) {
    r.Fail("a placement maps the lettering to nothing");
  }
  return placement;
}

void ReadItems(const Json& j, Reader& r, ParsedSet& out) {
  for (const auto& i : r.List(j, "items", kMaxItems)) {
    Item item;
    item.id = r.Text(i, "id", 200);
    const Json& photo = r.Field(i, "photo");
    item.photo_file = r.Text(photo, "file", 1000);
    item.photo_sha256 = r.Text(photo, "sha256", 64);
    item.photo_kept = r.Text(photo, "kept", 80);
    if (item.photo_kept.find('/') != std::string::npos || item.photo_kept.starts_with(".")) {
      r.Fail("the name of a kept photo is a path");
    }
    item.basis = r.Text(i, "basis");
    const Json& entered = r.Field(i, "entered");
    item.entered_by = r.Text(entered, "by");
    item.entered_on = r.Text(entered, "on", 40);
    const Json& quality = r.Field(i, "quality");
    item.cap_height_px = r.Number(quality, "cap_height_px");
    item.blur_px = r.Number(quality, "blur_px");
    item.coverage = r.Number(quality, "coverage");
    if (i.contains("grain")) item.grain = r.Text(i, "grain", kMostGrain);
    if (item.grain.find_first_not_of("+-.") != std::string::npos) r.Fail("a grain is not of + - .");
    const Json& features = r.Field(i, "features");
    if (!r.ok()) return;
    if (!features.is_object() || features.size() > 4000) {
      r.Fail("an item's features are not a list of named numbers");
      return;
    }
    for (const auto& [key, value] : features.items()) {
      item.features[key] = {r.Number(value, "value", 1e4), std::abs(r.Number(value, "u", 1e4))};
    }
    // Sets of before poses were kept have none.
    if (i.contains("poses")) {
      const Json& poses = i["poses"];
      if (!poses.is_object() || poses.size() > kMaxElements) {
        r.Fail("an item's poses are not a list by element");
        return;
      }
      for (const auto& [id, pose] : poses.items()) item.poses[id] = ReadPose(pose, r);
    }
    if (i.contains("placement")) item.placement = ReadPlacement(i["placement"], r);
    if (!r.ok()) return;
    out.set.items.push_back(std::move(item));
  }
}

/// Each item counts once, and photos without items are no set.
void CheckItems(const RefSet& set, Reader& r) {
  std::set<std::string> ids;
  std::set<std::string> photos;
  for (const Item& item : set.items) {
    if (!ids.insert(item.id).second) r.Fail(fmt::format("\"{}\" is two items", item.id));
    if (!photos.insert(item.photo_sha256).second) {
      r.Fail(fmt::format("the photo of \"{}\" is there twice", item.id));
    }
  }
  if (set.items.empty() && set.source == "photos")
    r.Fail("it has no items, though it is from photos");
}

void ReadHistory(const Json& j, Reader& r, RefSet& set) {
  const Json& previous = r.Field(j, "previous");
  set.previous_revision = r.Integer(previous, "revision", 0, 1'000'000);
  set.previous_sha256 = r.Text(previous, "sha256", 64);
  const Json& change = r.Field(j, "change");
  set.change.kind = r.Text(change, "kind", 20);
  set.change.by = r.Text(change, "by");
  set.change.on = r.Text(change, "on", 40);
  set.change.reason = r.Text(change, "reason");
  set.change.undone_to = r.Integer(change, "undone_to", 0, 1'000'000);
  for (const auto& item : r.List(change, "items", kMaxItems)) {
    if (!item.is_string()) r.Fail("a changed item has no name");
    if (r.ok()) set.change.items.push_back(item.get<std::string>());
  }
  for (const auto& i : r.List(j, "retired", kMaxItems)) {
    RetiredItem item;
    item.id = r.Text(i, "id", 200);
    const Json& photo = r.Field(i, "photo");
    item.photo_file = r.Text(photo, "file", 1000);
    item.photo_sha256 = r.Text(photo, "sha256", 64);
    item.basis = r.Text(i, "basis");
    item.reason = r.Text(i, "reason");
    item.by = r.Text(i, "by");
    item.on = r.Text(i, "on", 40);
    set.retired.push_back(std::move(item));
  }
}

/// Version 1 to version 2: one revision without a history; photos were not kept. The set's own
/// entry stands for its items', as they were entered together. What is damaged is left for the
/// reader to refuse.
void UpgradeFrom1(Json& j) {
  const auto entered = [&](const char* field) {
    const bool there = j.contains("entered") && j["entered"].is_object() &&
                       j["entered"].contains(field) && j["entered"][field].is_string();
    return there ? j["entered"][field].get<std::string>() : std::string();
  };
  const std::string by = entered("by");
  const std::string on = entered("on");
  j["previous"] = {{"revision", 0}, {"sha256", ""}};
  j["change"] = {{"kind", "create"},       {"by", by},      {"on", on}, {"reason", ""},
                 {"items", Json::array()}, {"undone_to", 0}};
  if (j.contains("outlines")) {
    const Json name = j["outlines"];
    j["outlines"] = {{"name", name}, {"sha256", ""}, {"edited", false}};
  }
  j["retired"] = Json::array();
  if (!j.contains("items") || !j["items"].is_array()) return;
  for (auto& item : j["items"]) {
    if (!item.is_object()) continue;
    item["entered"] = {{"by", by}, {"on", on}};
    if (item.contains("photo") && item["photo"].is_object()) item["photo"]["kept"] = "";
  }
}

/// What a photo must show for the set to speak.
Asks ReadAsks(const Json& asks, Reader& r) {
  Asks out;
  out.place = r.Number(asks, "place", 10);
  out.size = r.Number(asks, "size", 10);
  const bool lists = asks.is_object() && asks.contains("essential");
  for (const Json& name : lists ? asks["essential"] : Json::array()) {
    if (name != "mark" && name != "frame")
      r.Fail("a photo is asked to show what is neither mark nor frame");
    if (r.ok()) out.essential.push_back(name);
  }
  if (r.ok() && !(out.place > 0 && out.size > 0)) r.Fail("what the set asks for is not above 0");
  return out;
}

/// Names, labels and outlines.
void ReadHead(const Json& j, Reader& r, RefSet& set) {
  set.id = r.Text(j, "id", 64);
  set.revision = r.Integer(j, "revision", 1, 1'000'000);
  const Json& labels = r.Field(j, "labels");
  set.labels.maker = r.Text(labels, "maker");
  set.labels.period = r.Text(labels, "period");
  set.labels.notes = r.Text(labels, "notes", 20000);
  const Json& entered = r.Field(j, "entered");
  set.labels.entered_by = r.Text(entered, "by");
  set.labels.entered_on = r.Text(entered, "on");
  set.simulated = r.Flag(j, "simulated");
  set.free_aspect = r.Flag(j, "free_aspect");
  set.source = r.Text(j, "source");
  set.mark = r.Text(j, "mark", 16);
  const Json& outlines = r.Field(j, "outlines");
  set.outlines_name = r.Text(outlines, "name", 120);
  set.outlines_sha256 = r.Text(outlines, "sha256", 64);
  set.outlines_edited = r.Flag(outlines, "edited");
}

}  // namespace

Result<ParsedSet> ParseSet(const std::string& json, const std::string& where) {
  Reader r(where);
  bool too_deep = false;
  std::size_t values = 0;
  const auto guard = [&](int depth, Json::parse_event_t, Json&) {
    too_deep |= depth > kMaxDepth;
    return !too_deep && ++values <= kMaxValues;
  };
  Json j = Json::parse(json, guard, false);
  if (j.is_discarded() || too_deep || values > kMaxValues || !j.is_object()) {
    r.Fail(too_deep              ? "is nested too deeply for a reference set"
           : values > kMaxValues ? "holds more values than a reference set has"
                                 : "is not JSON");
    return r.Refusal();
  }
  if (r.Text(j, "format", 100) != kFormatName || !r.ok()) {
    return Refuse(ErrorCode::kSetUnreadable, "refset", where, "is not a reference set",
                  "name a folder under refsets/ that debossier wrote");
  }
  const int version = r.Integer(j, "version", 1, 1'000'000);
  if (r.ok() && version > kFormatVersion) {
    return Refuse(
        ErrorCode::kNewerFormat, "refset", where,
        fmt::format("has format version {}, this program reads up to {}", version, kFormatVersion),
        "install a newer debossier");
  }
  if (!r.ok()) return r.Refusal();
  if (version < 2) UpgradeFrom1(j);
  ParsedSet out;
  out.version = version;
  ReadHead(j, r, out.set);
  if (j.contains("library_spread")) {
    out.set.library_spread = ReadSpread(j["library_spread"], r);
  }
  if (j.contains("asks")) out.set.asks = ReadAsks(j["asks"], r);
  ReadLines(j, r, out);
  ReadFrame(j, r, out);
  ReadElements(j, r, out);
  ReadItems(j, r, out);
  ReadHistory(j, r, out.set);
  CheckItems(out.set, r);
  if (!r.ok()) return r.Refusal();
  return out;
}

}  // namespace debossier::refset
