#include "simulate/truth.h"

#include <nlohmann/json.hpp>

namespace debossier::simulate {
namespace {

using Json = nlohmann::ordered_json;

Json ToJson(const Point& p) { return Json::array({p.x(), p.y()}); }

Json ToJson(const Quad& quad) {
  Json corners = Json::array();
  for (const Point& corner : quad) corners.push_back(ToJson(corner));
  return corners;
}

Json FrameJson(const Truth& truth) {
  const outline::Frame& frame = truth.frame;
  if (frame.kind == outline::FrameKind::kNone) return Json{{"kind", "none"}};
  return Json{{"kind", frame.kind == outline::FrameKind::kEllipse ? "ellipse" : "rectangle"},
              {"centre", ToJson(frame.centre)},
              {"radius", ToJson(frame.radius)},
              {"line_weight", frame.line_weight},
              {"line_idx", frame.line_idx},
              {"quad_px", ToJson(truth.frame_quad_px)}};
}

Json ElementsJson(const Truth& truth) {
  Json elements = Json::array();
  for (const ElementTruth& element : truth.elements) {
    elements.push_back(Json{{"id", element.id},
                            {"line", element.line},
                            {"char", element.character},
                            {"box", Json::array({element.box.min.x(), element.box.min.y(),
                                                 element.box.max.x(), element.box.max.y()})},
                            {"quad_px", ToJson(element.quad_px)}});
  }
  return elements;
}

Json LinesJson(const Truth& truth) {
  Json lines = Json::array();
  for (const outline::Line& line : truth.lines) {
    lines.push_back(Json{{"id", line.id},
                         {"text", line.text},
                         {"baseline", line.baseline},
                         {"cap_height", line.cap_height},
                         {"x_height", line.x_height}});
  }
  return lines;
}

Json StretchJson(const Truth& truth) {
  const Eigen::Matrix2d& linear = truth.leather_from_stamp;
  return Json{{"linear", Json::array({Json::array({linear(0, 0), linear(0, 1)}),
                                      Json::array({linear(1, 0), linear(1, 1)})})},
              {"centre", truth.stretch.centre},
              {"half_length", truth.stretch.half_length},
              {"along", truth.stretch.along},
              {"across", truth.stretch.across}};
}

}  // namespace

std::string TruthJson(const Truth& truth) {
  Json homography = Json::array();
  for (int j = 0; j < 3; ++j) {
    const auto row = truth.photo_from_stamp.row(j);
    homography.push_back(Json::array({row(0), row(1), row(2)}));
  }
  Json amounts = Json::object();
  for (const AmountRow& row : AmountTable()) amounts[row.name] = truth.amounts.*row.member;
  Json departures = Json::array();
  for (const Departure& departure : truth.departures) {
    departures.push_back(Json{
        {"name", departure.name}, {"element", departure.element}, {"amount", departure.amount}});
  }
  const Json json{{"format", "debossier-truth"},
                  {"version", 1},
                  {"simulated", true},
                  {"seed", truth.seed},
                  {"level", NameOf(truth.level)},
                  {"leather", NameOf(truth.leather)},
                  {"leather_colour", truth.leather_colour},
                  {"finish", NameOf(truth.finish)},
                  {"width", truth.width},
                  {"height", truth.height},
                  {"cap_height_px", truth.amounts.cap_height_px},
                  {"cap_height_mm", truth.amounts.cap_height_mm},
                  {"gain", truth.gain},
                  {"photo_from_stamp", homography},
                  {"stretch", StretchJson(truth)},
                  {"departures", departures},
                  {"lines", LinesJson(truth)},
                  {"frame", FrameJson(truth)},
                  {"elements", ElementsJson(truth)},
                  {"amounts", amounts}};
  // Texts come from the caller: damaged UTF-8 is replaced, never thrown over.
  return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace debossier::simulate
