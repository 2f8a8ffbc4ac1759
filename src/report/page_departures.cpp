// The departures that page one has no room for, each as a figure with its sentence; and the pair of
// pictures with outlines, where page one shows it without.
#include <fmt/format.h>

#include <algorithm>

#include "report/exhibits.h"
#include "results/words.h"

namespace debossier::report {

namespace {

using compare::Reason;

constexpr double kFigureWidth = 268;
constexpr double kFigureHeight = 92;
constexpr double kBetween = 12;
constexpr double kTextX = 22 + kFigureWidth + kBetween;
constexpr double kHeadingRoom = 40;
constexpr TextStyle kText{.size = 10, .max_lines = 9};
constexpr TextStyle kNumbers{.size = 8, .colour = kQuietInk, .max_lines = 2};

void DrawDeparture(Canvas& canvas, const Material& material, std::size_t idx, double y) {
  const Rect& body = material.body;
  const Reason& reason = material.comparison.reasons[idx];
  const Figure figure(material, reason);
  DrawCallout(canvas, {body.x + 8, y + 9}, static_cast<int>(idx) + 1);
  const double x = body.x + (figure.empty() ? 22 : kTextX);
  if (!figure.empty()) figure.Draw(canvas, {body.x + 22, y, kFigureWidth, kFigureHeight});
  const Tag tag(canvas, "P");
  y += canvas.Text({x, y}, body.right() - x, reason.text, kText) + 3;
  for (const std::string& line : figure.Numbers()) {
    y += canvas.Text({x, y}, body.right() - x, line, kNumbers);
  }
}

/// A page: the pair with outlines or not, and reasons from `first` on.
struct Plan {
  bool pair = false;
  double picture = 0;
  std::size_t first = 0;
  std::size_t count = 0;
  std::string note;
};

void DrawPage(Canvas& canvas, const Material& material, const Plan& plan, bool is_first) {
  const Rect& body = material.body;
  const bool departs = material.comparison.finding == compare::Finding::kDeparts;
  const std::string heading = departs ? "Departures" : "The lettering with outlines";
  double y = DrawHeading(canvas, body, is_first ? heading : heading + ", continued", plan.note);
  if (plan.pair) {
    y += DrawMarkedPair(canvas, material, {body.x, y}, body.width, plan.picture, false,
                        static_cast<int>(material.comparison.reasons.size())) +
         kBetween;
  }
  for (std::size_t i = 0; i < plan.count; ++i) {
    DrawDeparture(canvas, material, plan.first + i, y);
    y += kFigureHeight + kBetween;
  }
}

}  // namespace

void PlanDepartures(const Material& material, Canvas& canvas, Pages& pages) {
  if (!material.lettering_box) return;
  const auto& c = material.comparison;
  const bool pair = !MarkedOnPageOne(material, canvas);
  const bool departs = c.finding == compare::Finding::kDeparts;
  std::size_t next = departs ? ReasonsOnPageOne(material, canvas) : c.reasons.size();
  const std::size_t most = std::min(
      c.reasons.size(), next + static_cast<std::size_t>(std::max(material.options.max_figures, 0)));
  if (!pair && next >= most) return;
  bool is_first = true;
  while (is_first || next < most) {
    Plan plan;
    double room = material.body.height - kHeadingRoom;
    if (is_first && most < c.reasons.size()) {
      plan.note = fmt::format("{} more departures are listed with the measurements only.",
                              c.reasons.size() - most);
      room -= 16;
    }
    if (is_first && pair) {
      const Box box = *ExhibitBox(material);
      plan.pair = true;
      plan.picture = std::min(material.body.width * box.height() / box.width(),
                              0.5 * (room - MarkedPairHeight(0, false)));
      room -= MarkedPairHeight(plan.picture, false) + kBetween;
    }
    plan.first = next;
    plan.count = std::min(
        most - next, static_cast<std::size_t>(std::max(0.0, room / (kFigureHeight + kBetween))));
    next += plan.count;
    pages.push_back(
        {is_first ? (departs ? "Departures" : "Lettering with outlines") : "",
         [&material, plan, is_first](Canvas& page) { DrawPage(page, material, plan, is_first); }});
    is_first = false;
  }
}

}  // namespace debossier::report
