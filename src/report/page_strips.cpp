// Strips of the lettering, enlarged so that a departure of 2 % of the cap height can be seen: the
// photo with the reference over it, and below it the edge of the foil against the reference.
#include <algorithm>
#include <cmath>

#include "report/pages.h"

namespace debossier::report {
namespace {

constexpr double kLeastHeight = 56;  // of a line's letters on the page, points
constexpr double kMostHeight = 68;
constexpr double kAboveBelow = 9;  // ground shown around a strip, points
constexpr double kLabelHeight = 12;
constexpr double kVerdictsHeight = 19;  // two rows of words below a strip
constexpr double kBetweenRows = 4;

struct Row {
  std::string label;
  std::vector<std::string> ids;
  Box box;           ///< Stamp frame.
  double scale = 0;  ///< Points per cap height of the wordmark.
  double StripHeight() const { return box.height() * scale + 2 * kAboveBelow; }
  double Height() const {
    return kLabelHeight + 2 * StripHeight() + kVerdictsHeight + kBetweenRows;
  }
};

double LetterHeight(const outline::Line& line, const Box& box) {
  if (line.cap_height > 0) return line.cap_height;
  return line.x_height > 0 ? line.x_height : box.height();
}

// Of a letter that was read as another the place where it was read: the set's own stands elsewhere.
Box BoxOfStrip(const Material& material, const std::string& id) {
  const auto* found = material.Found(id);
  if (found != nullptr && found->read) return outline::Bounds(found->outline);
  return BoxOf(material, {id});
}

// Splits a line into rows of about equal length that fit the page.
std::vector<Row> RowsOfLine(const Material& material, int line_idx) {
  const auto& reference = material.comparison.reference;
  std::vector<std::string> ids;
  for (const auto& element : reference.elements) {
    if (element.line_idx == line_idx) ids.push_back(element.id);
  }
  std::vector<Row> rows;
  Box whole;
  for (const std::string& id : ids) whole.Add(BoxOfStrip(material, id));
  if (whole.empty() || whole.height() <= 0) return rows;
  const outline::Line& line = reference.lines[line_idx];
  const double room = material.body.width - 2 * kAboveBelow;
  const double height = std::max(LetterHeight(line, whole), 1e-3);
  const double least = kLeastHeight / height;
  const double count = std::ceil(whole.width() * least / (1.15 * room));
  const double scale = std::min(kMostHeight / height, count * room / whole.width());
  const double row_width = whole.width() / count;
  for (const std::string& id : ids) {
    const Box box = BoxOfStrip(material, id);
    const bool starts = rows.empty() || (box.centre().x() - whole.min.x()) / row_width >=
                                            static_cast<double>(rows.size());
    if (starts) rows.push_back({line.id + ": " + line.text, {}, {}, scale});
    rows.back().ids.push_back(id);
    rows.back().box.Add(box);
  }
  for (Row& row : rows) {
    row.scale = std::min(row.scale, room / std::max(row.box.width(), 1e-3));
    // Strips of one line share one height, with room for the line's flat letters at least.
    row.box.min.y() = whole.min.y();
    row.box.max.y() = whole.max.y();
  }
  return rows;
}

void Label(Canvas& canvas, const View& view, const Point& stamp, double y, const char* words,
           const Colour& colour) {
  canvas.TextCentred({view.FromStamp(stamp).x(), y}, words,
                     {.size = 7.5, .bold = true, .colour = colour});
}

void LabelElements(Canvas& canvas, const Material& material, const Row& row, const View& view,
                   double y) {
  for (const std::string& id : row.ids) {
    const auto* element = material.Reference(id);
    if (element == nullptr) continue;
    const Point foot(BoxOfStrip(material, id).centre().x(), row.box.min.y());
    const auto* found = material.Found(id);
    const bool departs = material.departing.contains(id);
    if (found != nullptr && found->read) {
      if (id == row.ids.front()) {
        const Point middle(row.box.centre().x(), row.box.min.y());
        Label(canvas, view, middle, y, "read as another case than the verified items'",
              kDepartsColour);
      }
    } else if (found == nullptr) {
      Label(canvas, view, foot, y, "not found", departs ? kDepartsColour : kInk);
    } else if (departs) {
      Label(canvas, view, foot, y, "departs", kDepartsColour);
    }
  }
  for (const auto& [left, right] : material.departing_gaps) {
    const auto* l = material.Found(left);
    const auto* r = material.Found(right);
    const bool in_row = std::find(row.ids.begin(), row.ids.end(), left) != row.ids.end();
    if (!in_row || l == nullptr || r == nullptr) continue;
    Label(canvas, view, {0.5 * (l->box.max.x() + r->box.min.x()), row.box.min.y()}, y + 8, "gap",
          kDepartsColour);
  }
}

void DrawPhotoStrip(Canvas& canvas, const Material& material, const Row& row, const View& view) {
  const FigureTag tag(canvas, row.label + ", in the photo, outlines of the verified items over it");
  DrawPhoto(canvas, material.photo, view);
  const Clip clip(canvas, view.panel);
  std::set<std::string> all;
  for (const auto& [id, idx] : material.element_idx) all.insert(id);
  DrawElements(canvas, material, view, Layer::kReference, all, ReferenceStyle(0.7, true));
  DrawReferenceFrame(canvas, material, view, ReferenceStyle(0.7, true));
}

void DrawOutlineStrip(Canvas& canvas, const Material& material, const Row& row, const View& view) {
  const FigureTag tag(canvas,
                      row.label + ", the foil as found and where the verified items have it");
  const Clip clip(canvas, view.panel);
  const std::set<std::string> ids(row.ids.begin(), row.ids.end());
  std::set<std::string> untraced;
  for (const std::string& id : row.ids) {
    const auto* found = material.Found(id);
    if (found == nullptr) continue;
    if (found->foil_edge_px.empty()) {
      untraced.insert(id);
    } else {
      AddElement(canvas, material, view, Layer::kFoilEdge, id);
    }
  }
  cairo_set_fill_rule(canvas.cr(), CAIRO_FILL_RULE_EVEN_ODD);
  canvas.SetColour(kFoilGrey);
  cairo_fill_preserve(canvas.cr());
  canvas.Stroke(FoundStyle(0.4));
  DrawElements(canvas, material, view, Layer::kFound, untraced, FoundStyle(0.5));
  std::set<std::string> departing;
  for (const std::string& id : row.ids) {
    if (material.departing.contains(id)) departing.insert(id);
  }
  DrawElements(canvas, material, view, Layer::kFound, departing, DepartsStyle(1.0));
  DrawElements(canvas, material, view, Layer::kReference, ids, ReferenceStyle(0.8));
  DrawReferenceFrame(canvas, material, view, ReferenceStyle(0.8));
  DrawMissingBoxes(canvas, material, view, false);
  DrawGapMarks(canvas, material, view, false);
}

void DrawRow(Canvas& canvas, const Material& material, const Row& row, double y) {
  const Rect& body = material.body;
  canvas.Text({body.x, y}, body.width, row.label, {.size = 8, .colour = kQuietInk, .max_lines = 1});
  y += kLabelHeight;
  const Rect panel{body.x, y, body.width, row.StripHeight()};
  View view = ViewOfStamp(
      material.comparison.measured.placement, row.box,
      {panel.x, panel.y + kAboveBelow, panel.width, panel.height - 2 * kAboveBelow}, row.scale);
  if (view.placement == nullptr) return;
  view.panel = panel;
  DrawPhotoStrip(canvas, material, row, view);
  view.page_from_photo.offset.y() += panel.height;
  view.panel.y += panel.height;
  DrawOutlineStrip(canvas, material, row, view);
  canvas.Frame({panel.x, panel.y, panel.width, 2 * panel.height}, kRule, 0.5);
  LabelElements(canvas, material, row, view, view.panel.bottom() + 7);
}

void DrawStripsPage(Canvas& canvas, const Material& material, const std::vector<Row>& rows) {
  const Rect& body = material.body;
  double y = DrawHeading(canvas, body, "The lettering, enlarged",
                         "Each strip shows the photo with the reference over it, and below it, at "
                         "the same place and size, the foil as found.");
  std::vector<LegendEntry> legend = {{LegendEntry::Kind::kReference, "reference outline"}};
  const auto& elements = material.comparison.measured.elements;
  const bool traced = std::any_of(elements.begin(), elements.end(),
                                  [](const auto& e) { return !e.foil_edge_px.empty(); });
  legend.push_back({LegendEntry::Kind::kFound, traced ? "edge of the foil found (grey inside)"
                                                      : "reference moved to where it was found"});
  if (!material.departing.empty()) {
    legend.push_back(
        {LegendEntry::Kind::kDeparts, "as read, or the reference moved, where it departs"});
  }
  y += DrawLegend(canvas, {body.x, y}, body.width, legend) + 6;
  for (const Row& row : rows) {
    DrawRow(canvas, material, row, y);
    y += row.Height();
  }
}

}  // namespace

void PlanStrips(const Material& material, Canvas&, Pages& pages) {
  if (!material.lettering_box) return;
  std::vector<Row> rows;
  for (std::size_t i = 0; i < material.comparison.reference.lines.size(); ++i) {
    for (Row& row : RowsOfLine(material, static_cast<int>(i))) rows.push_back(std::move(row));
  }
  constexpr double kHeadingRoom = 88;
  const double room = material.body.height - kHeadingRoom;
  std::vector<Row> on_page;
  double used = 0;
  bool first = true;
  const auto flush = [&] {
    if (on_page.empty()) return;
    pages.push_back({first ? "Lettering, enlarged" : "",
                     [&material, rows_here = std::move(on_page)](Canvas& canvas) {
                       DrawStripsPage(canvas, material, rows_here);
                     }});
    on_page.clear();
    used = 0;
    first = false;
  };
  for (Row& row : rows) {
    // A lettering far taller than wide still has to fit.
    const double most =
        (room - kLabelHeight - kVerdictsHeight - kBetweenRows) / 2 - 2 * kAboveBelow;
    row.scale = std::min(row.scale, most / row.box.height());
    if (used + row.Height() > room) flush();
    used += row.Height();
    on_page.push_back(std::move(row));
  }
  flush();
}

}  // namespace debossier::report
