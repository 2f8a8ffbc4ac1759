// All measurements in a table, each with a small plot against the verified items.
//
// Plot: the axis counts predictive standard deviations from the mean of the verified items; what
// lies beyond its ends is drawn as an arrow there.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include "report/pages.h"
#include "results/words.h"

namespace debossier::report {
namespace {

using compare::Comparison;
using compare::Feature;

constexpr double kRowHeight = 13.5;
constexpr double kHeaderHeight = 30;
constexpr double kAxisReach = 8;  // predictive standard deviations
constexpr double kLabelPad = 4;
constexpr double kPlotPad = 18;
constexpr double kFontSize = 7.1;

enum Column { kLabel, kMeasured, kU, kMean, kSpread, kZ, kPlot, kVerdict, kColumns };

struct Columns {
  double x[kColumns];
  double width[kColumns];
};

Columns LayOutColumns(const Rect& body) {
  Columns columns{};
  const double fixed[kColumns] = {0, 42, 42, 44, 40, 34, 92, 50};
  double rest = body.width;
  for (const double w : fixed) rest -= w;
  double x = body.x;
  for (int i = 0; i < kColumns; ++i) {
    columns.x[i] = x;
    columns.width[i] = i == kLabel ? rest : fixed[i];
    x += columns.width[i];
  }
  return columns;
}

// One line of the table: a group's heading or a feature.
struct TableRow {
  const Feature* feature = nullptr;
  std::string group;
  double height = kRowHeight;
};

// Features of one measure stand together, in the order in which the measures first appear.
std::vector<TableRow> TableRows(const Comparison& comparison) {
  std::vector<std::string> names;
  std::map<std::string, std::vector<const Feature*>> groups;
  for (const Feature& feature : comparison.features) {
    const std::string name = fmt::format("{} ({})", feature.measure, feature.unit);
    if (!groups.contains(name)) names.push_back(name);
    groups[name].push_back(&feature);
  }
  std::vector<TableRow> rows;
  for (const std::string& name : names) {
    rows.push_back({nullptr, name});
    for (const Feature* feature : groups[name]) rows.push_back({feature, "", kRowHeight});
  }
  return rows;
}

// The predictive standard deviation behind z.
double PredictiveDeviation(const Feature& f) {
  const double sd = f.z != 0 ? (f.value - f.expected) / f.z : Combine(f.u, f.spread);
  return std::isfinite(sd) && sd > 0 ? sd : 0;
}

class PlotAxis {
 public:
  PlotAxis(const Rect& cell, const Feature& f, double sd)
      : centre_(cell.centre().x()),
        unit_((cell.width - kPlotPad) / (2 * kAxisReach)),
        mean_(f.expected),
        sd_(sd) {}
  double Place(double value) const { return (value - mean_) / sd_; }
  double X(double deviations) const {
    return centre_ + unit_ * std::clamp(deviations, -kAxisReach, kAxisReach);
  }

 private:
  double centre_;
  double unit_;
  double mean_;
  double sd_;
};

void AddMarker(cairo_t* cr, const Feature& f, const Point& at, double deviations) {
  constexpr double r = 2.6;
  if (std::abs(deviations) > kAxisReach) {
    const double s = deviations > 0 ? 1 : -1;
    cairo_move_to(cr, at.x() + s * 5, at.y());
    cairo_line_to(cr, at.x() - s * 1, at.y() - 3.4);
    cairo_line_to(cr, at.x() - s * 1, at.y() + 3.4);
  } else if (f.departs) {
    cairo_move_to(cr, at.x(), at.y() - 3.6);
    cairo_line_to(cr, at.x() + 3.6, at.y());
    cairo_line_to(cr, at.x(), at.y() + 3.6);
    cairo_line_to(cr, at.x() - 3.6, at.y());
  } else {
    cairo_new_sub_path(cr);
    cairo_arc(cr, at.x(), at.y(), r, 0, 2 * std::numbers::pi);
  }
  cairo_close_path(cr);
}

/// One row of the column of plots.
struct Plot {
  const Feature* feature;
  Rect cell;
};

/// Draws the plots of a page, each kind of mark of all rows at once: thousands of small strokes
/// took Cairo longer than everything else in a report.
void DrawPlots(Canvas& canvas, const std::vector<Plot>& plots) {
  cairo_t* cr = canvas.cr();
  const auto each = [&](const auto& draw) {
    for (const Plot& plot : plots) {
      const double sd = PredictiveDeviation(*plot.feature);
      if (sd <= 0 || !std::isfinite(plot.feature->value)) continue;
      draw(*plot.feature, plot.cell, PlotAxis(plot.cell, *plot.feature, sd), sd);
    }
  };
  each([&](const Feature&, const Rect& cell, const PlotAxis& axis, double) {
    cairo_rectangle(cr, axis.X(-2), cell.y + 1.5, axis.X(2) - axis.X(-2), cell.height - 3);
  });
  canvas.SetColour(kGround);
  cairo_fill(cr);
  each([&](const Feature&, const Rect& cell, const PlotAxis& axis, double) {
    cairo_move_to(cr, axis.X(-kAxisReach), cell.centre().y());
    cairo_line_to(cr, axis.X(kAxisReach), cell.centre().y());
  });
  canvas.Stroke({kRule, 0.4});
  each([&](const Feature&, const Rect& cell, const PlotAxis& axis, double) {
    cairo_move_to(cr, axis.X(0), cell.y + 1.5);
    cairo_line_to(cr, axis.X(0), cell.bottom() - 1.5);
  });
  canvas.Stroke({kQuietInk, 0.5});
  // Dots one below the other's height a little, so that equal values stay apart.
  each([&](const Feature& f, const Rect& cell, const PlotAxis& axis, double) {
    for (std::size_t i = 0; i < std::min<std::size_t>(f.items.size(), 60); ++i) {
      const double place = axis.Place(f.items[i]);
      if (!std::isfinite(place)) continue;
      // A line without length and with round ends is a dot.
      cairo_move_to(cr, axis.X(place), cell.centre().y() + (static_cast<int>(i % 3) - 1) * 2.0);
      cairo_close_path(cr);
    }
  });
  cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
  canvas.Stroke({kBlue, 2.3});
  cairo_set_line_cap(cr, CAIRO_LINE_CAP_BUTT);
  for (const bool departs : {false, true}) {
    const Colour colour = departs ? kDepartsColour : kInk;
    each([&](const Feature& f, const Rect& cell, const PlotAxis& axis, double sd) {
      if (f.departs != departs) return;
      const double place = axis.Place(f.value);
      const double bar = 2 * f.u / sd;
      cairo_move_to(cr, axis.X(place - bar), cell.centre().y());
      cairo_line_to(cr, axis.X(place + bar), cell.centre().y());
    });
    canvas.Stroke({colour, 1});
    each([&](const Feature& f, const Rect& cell, const PlotAxis& axis, double) {
      if (f.departs != departs) return;
      const double place = axis.Place(f.value);
      AddMarker(cr, f, {axis.X(place), cell.centre().y()}, place);
    });
    canvas.SetColour(colour);
    cairo_fill(cr);
  }
}

void DrawHeader(Canvas& canvas, const Columns& columns, double y) {
  const char* names[kColumns] = {"measure", "measured", "± U", "verified mean",
                                 "spread",  "z",        "",    "verdict"};
  const Tag tag(canvas, "TR");
  for (int i = 0; i < kColumns; ++i) {
    const bool left = i == kLabel || i == kVerdict;
    const double pad = i == kVerdict ? 6 : 0;
    const Tag cell(canvas, "TH");
    if (i == kPlot) {
      canvas.Text({columns.x[i], y}, columns.width[i], "standard deviations",
                  {.size = 6.5, .colour = kQuietInk, .align = Align::kCentre, .max_lines = 1});
      for (const int mark : {-8, -4, 0, 4, 8}) {
        const double x = columns.x[i] + columns.width[i] / 2 +
                         mark * (columns.width[i] - kPlotPad) / (2 * kAxisReach);
        canvas.Text({x - 10, y + 11}, 20, fmt::format("{}", mark),
                    {.size = 6.5, .colour = kQuietInk, .align = Align::kCentre});
      }
      continue;
    }
    canvas.Text({columns.x[i] + pad, y}, columns.width[i] - pad, names[i],
                {.size = 6.5,
                 .colour = kQuietInk,
                 .align = left ? Align::kLeft : Align::kRight,
                 .max_lines = 2});
  }
}

TextStyle LabelStyle(const Feature& f) {
  return {.size = kFontSize, .bold = f.departs, .max_lines = 2};
}

// Rows are higher where the label needs two lines.
void MeasureRows(Canvas& canvas, const Rect& body, std::vector<TableRow>& rows) {
  constexpr std::size_t kSurelyFits = 20;  // bytes
  const double width = LayOutColumns(body).width[kLabel] - kLabelPad;
  const double line = canvas.TextHeight(width, "0", {.size = kFontSize, .max_lines = 2});
  for (TableRow& row : rows) {
    if (row.feature == nullptr || row.feature->label.size() <= kSurelyFits) continue;
    const double text = canvas.TextHeight(width, row.feature->label, LabelStyle(*row.feature));
    row.height += std::max(0.0, text - line);
  }
}

void DrawFeatureRow(Canvas& canvas, const Columns& columns, const Feature& f, double y) {
  const std::string cells[kColumns] = {f.label,
                                       Value(f.value, f.unit),
                                       "±" + Value(2 * f.u, f.unit),
                                       Value(f.expected, f.unit),
                                       Value(f.spread, f.unit),
                                       Fixed(f.z, 1, true),
                                       "",
                                       Verdict(f)};
  const Tag tag(canvas, "TR");
  for (int i = 0; i < kColumns; ++i) {
    const Tag cell(canvas, "TD");
    if (i == kPlot) continue;  // DrawPlots() fills this column
    if (i == kLabel) {
      canvas.Text({columns.x[i], y + 2.7}, columns.width[i] - kLabelPad, f.label, LabelStyle(f));
      continue;
    }
    const double pad = i == kVerdict ? 6 : 0;
    TextStyle style{.size = kFontSize, .bold = f.departs, .max_lines = 1, .shrinks = true};
    if (i != kVerdict) style.align = Align::kRight;
    if (i == kVerdict && f.departs) style.colour = kDepartsColour;
    if (i == kVerdict && !f.departs) style.colour = kQuietInk;
    canvas.Text({columns.x[i] + pad, y + 2.7}, columns.width[i] - pad, cells[i], style);
  }
}

void DrawTable(Canvas& canvas, const Rect& body, double y, const std::vector<TableRow>& rows) {
  const Columns columns = LayOutColumns(body);
  const Tag table(canvas, "Table");
  DrawHeader(canvas, columns, y);
  y += kHeaderHeight - 6;
  canvas.Line({body.x, y}, {body.right(), y}, kInk, 0.6);
  y += 3;
  double top = y;
  std::vector<Plot> plots;
  for (const TableRow& row : rows) {
    if (row.feature != nullptr) {
      DrawFeatureRow(canvas, columns, *row.feature, y);
      plots.push_back({row.feature, {columns.x[kPlot], y, columns.width[kPlot], kRowHeight}});
    } else {
      const Tag group(canvas, "TR");
      const Tag cell(canvas, "TH");
      canvas.Text({body.x, y + 2.7}, body.width, row.group,
                  {.size = kFontSize, .bold = true, .colour = kQuietInk, .max_lines = 1});
    }
    y += row.height;
  }
  for (const TableRow& row : rows) {
    top += row.height;
    cairo_move_to(canvas.cr(), body.x, top);
    cairo_line_to(canvas.cr(), body.right(), top);
  }
  canvas.Stroke({kRule, 0.25});
  DrawPlots(canvas, plots);
}

const char* TableNote() {
  return "Lengths are in cap heights of the wordmark, stroke gain removed. U: expanded "
         "uncertainty, k = 2, of this photo and of the set's outlines. Spread: standard deviation "
         "between verified items. z: distance from the verified mean in standard deviations "
         "(spread "
         "and this photo's uncertainty together). The finding does not rest on single values but "
         "on "
         "the sentences of the page before, which see all letters at once. Plot: blue dots are "
         "verified items, the grey band spans two standard deviations to each side; a disc with "
         "its U bar is this item, a diamond (or an arrow, beyond the plot) where a sentence that "
         "is "
         "said is about it.";
}

}  // namespace

void PlanMeasurements(const Material& material, Canvas& canvas, Pages& pages) {
  std::vector<TableRow> rows = TableRows(material.comparison);
  const Rect& body = material.body;
  const double note =
      canvas.TextHeight(body.width, TableNote(), {.size = 7.6, .colour = kQuietInk});
  if (rows.empty()) {
    pages.push_back({"Measurements", [&material](Canvas& page) {
                       const double y = DrawHeading(page, material.body, "Measurements");
                       page.Text({material.body.x, y}, material.body.width,
                                 "Nothing could be measured on this photo.", {.size = 10});
                     }});
    return;
  }
  MeasureRows(canvas, body, rows);
  constexpr double kHeading = 40;
  for (std::size_t first = 0; first < rows.size();) {
    const bool is_first = first == 0;
    const double room = body.height - kHeading - kHeaderHeight - (is_first ? note + 10 : 0);
    std::size_t count = 1;
    double used = rows[first].height;
    while (first + count < rows.size() && used + rows[first + count].height <= room) {
      used += rows[first + count].height;
      ++count;
    }
    // A group's heading does not stand alone at the foot of a page.
    const bool more = first + count < rows.size();
    if (more && count > 1 && rows[first + count - 1].feature == nullptr) --count;
    std::vector<TableRow> here(rows.begin() + static_cast<std::ptrdiff_t>(first),
                               rows.begin() + static_cast<std::ptrdiff_t>(first + count));
    pages.push_back({is_first ? "Measurements" : "", [&material, here, is_first](Canvas& page) {
                       double y =
                           DrawHeading(page, material.body,
                                       is_first ? "Measurements" : "Measurements, continued");
                       if (is_first) {
                         const Tag tag(page, "P");
                         y += page.Text({material.body.x, y}, material.body.width, TableNote(),
                                        {.size = 7.6, .colour = kQuietInk}) +
                              10;
                       }
                       DrawTable(page, material.body, y, here);
                     }});
    first += count;
  }
}

}  // namespace debossier::report
