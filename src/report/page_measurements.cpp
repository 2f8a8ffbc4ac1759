// All measurements in a table: what departs first, then what could not be told and why, then the
// rest, each with a small plot against the verified items.
//
// Plot: the axis counts in the table's own unit from the mean of the verified items; what lies
// beyond its ends is drawn as an arrow there.
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
constexpr double kAxisReach = 0.05;  // cap heights, or as a ratio
constexpr double kLabelPad = 4;
constexpr double kPlotPad = 24;
constexpr double kFontSize = 7.1;
constexpr TextStyle kNoteStyle{.size = 7.6, .colour = kQuietInk};

enum Column { kLabel, kMeasured, kU, kRange, kLimit, kMm, kPlot, kVerdict, kColumns };

struct Columns {
  double x[kColumns];
  double width[kColumns];
};

Columns LayOutColumns(const Rect& body, bool has_mm) {
  Columns columns{};
  const double fixed[kColumns] = {0, 42, 42, 82, 48, has_mm ? 70.0 : 0.0, 100, 42};
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

bool HasMm(const Comparison& c) { return c.scale && c.scale->is_known(); }

// One line of the table: a heading, words where nothing was measured, or a feature.
struct TableRow {
  enum class Kind { kPart, kGroup, kWords, kFeature } kind;
  const Feature* feature = nullptr;
  std::string words;
  double height = kRowHeight;
};

/// The sentence whose limit says how small a departure of this value would have shown; null where
/// none is about it.
const compare::TriedSentence* SentenceOf(const Comparison& c, const Feature& f) {
  const bool size = f.measure == "letter height" || f.measure == "letter width";
  const std::string measure = size                      ? "letter size"
                              : f.measure == "baseline" ? "letter place across"
                                                        : f.measure;
  const compare::TriedSentence* found = nullptr;
  for (const compare::TriedSentence& s : c.sentences) {
    if (s.measure != measure || s.elements != f.elements) continue;
    if (found == nullptr || s.limit < found->limit) found = &s;
  }
  return found;
}

bool IsUntold(const Comparison& c, const Feature& f) {
  const auto* sentence = SentenceOf(c, f);
  return !f.departs && sentence != nullptr && !sentence->decidable;
}

/// Letters and marks that were not measured, and why, together where the reason is one.
std::vector<std::string> NotMeasured(const Comparison& c) {
  std::vector<std::pair<std::string, std::string>> by_reason;
  for (const auto& e : c.measured.elements) {
    if (e.found) continue;
    const char* why = e.read       ? "read as another case, so not held against the set's letters"
                      : e.in_place ? "in its usual place, too worn or blurred to be measured"
                      : e.cut      ? "outside the photo or the crop"
                                   : "not found";
    const auto line = static_cast<std::size_t>(e.line_idx);
    const std::string reason =
        line < c.reference.lines.size()
            ? fmt::format(" of \"{}\": {}", c.reference.lines[line].text, why)
            : fmt::format(": {}", why);
    if (by_reason.empty() || by_reason.back().first != reason) by_reason.emplace_back(reason, "");
    std::string& characters = by_reason.back().second;
    characters += (characters.empty() ? "" : " ") + e.character;
  }
  std::vector<std::string> words;
  words.reserve(by_reason.size());
  for (const auto& [reason, characters] : by_reason) words.push_back(characters + reason);
  return words;
}

/// What departs and has no number.
std::vector<std::string> WithoutNumber(const Comparison& c) {
  std::vector<std::string> words;
  if (c.finding != compare::Finding::kDeparts) return words;
  for (const compare::Reason& reason : c.reasons) {
    if (reason.u == 0) words.push_back(reason.text);
  }
  return words;
}

void AddPart(const std::string& heading, const std::vector<const Feature*>& features,
             const std::vector<std::string>& words, std::vector<TableRow>& rows) {
  if (features.empty() && words.empty()) return;
  rows.push_back({TableRow::Kind::kPart, nullptr, heading});
  // Features of one measure stand together, in the order in which the measures first appear.
  std::vector<std::string> names;
  std::map<std::string, std::vector<const Feature*>> groups;
  for (const Feature* feature : features) {
    const std::string name = fmt::format("{} ({})", feature->measure, feature->unit);
    if (!groups.contains(name)) names.push_back(name);
    groups[name].push_back(feature);
  }
  for (const std::string& name : names) {
    rows.push_back({TableRow::Kind::kGroup, nullptr, name});
    for (const Feature* feature : groups[name]) {
      rows.push_back({TableRow::Kind::kFeature, feature, ""});
    }
  }
  for (const std::string& text : words) rows.push_back({TableRow::Kind::kWords, nullptr, text});
}

std::vector<TableRow> TableRows(const Comparison& c) {
  std::vector<const Feature*> departing, untold, rest;
  for (const Feature& f : c.features) {
    (f.departs ? departing : IsUntold(c, f) ? untold : rest).push_back(&f);
  }
  std::vector<TableRow> rows;
  AddPart("What departs", departing, WithoutNumber(c), rows);
  AddPart("What could not be told: a departure as small as the set asks for would not have shown",
          untold, {}, rows);
  AddPart("What was not measured, and why", {}, NotMeasured(c), rows);
  AddPart("What agrees, as far as the photo shows it", rest, {}, rows);
  return rows;
}

class PlotAxis {
 public:
  PlotAxis(const Rect& cell, const Feature& f)
      : centre_(cell.centre().x()),
        unit_((cell.width - kPlotPad) / (2 * kAxisReach)),
        mean_(f.expected) {}
  double Place(double value) const { return value - mean_; }
  double X(double beside_mean) const {
    return centre_ + unit_ * std::clamp(beside_mean, -kAxisReach, kAxisReach);
  }

 private:
  double centre_;
  double unit_;
  double mean_;
};

void AddMarker(cairo_t* cr, const Feature& f, const Point& at, double beside_mean) {
  constexpr double r = 2.6;
  if (std::abs(beside_mean) > kAxisReach) {
    const double s = beside_mean > 0 ? 1 : -1;
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
      const Feature& f = *plot.feature;
      if (!std::isfinite(f.value) || !std::isfinite(f.expected)) continue;
      draw(f, plot.cell, PlotAxis(plot.cell, f));
    }
  };
  each([&](const Feature& f, const Rect& cell, const PlotAxis& axis) {
    const double half = std::isfinite(f.spread) ? 2 * f.spread : 0;
    cairo_rectangle(cr, axis.X(-half), cell.y + 1.5, axis.X(half) - axis.X(-half), cell.height - 3);
  });
  canvas.SetColour(kRule);
  cairo_fill(cr);
  each([&](const Feature&, const Rect& cell, const PlotAxis& axis) {
    cairo_move_to(cr, axis.X(-kAxisReach), cell.centre().y());
    cairo_line_to(cr, axis.X(kAxisReach), cell.centre().y());
  });
  canvas.Stroke({kRule, 0.4});
  each([&](const Feature&, const Rect& cell, const PlotAxis& axis) {
    cairo_move_to(cr, axis.X(0), cell.y + 1.5);
    cairo_line_to(cr, axis.X(0), cell.bottom() - 1.5);
  });
  canvas.Stroke({kQuietInk, 0.5});
  // Dots one below the other's height a little, so that equal values stay apart.
  each([&](const Feature& f, const Rect& cell, const PlotAxis& axis) {
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
    each([&](const Feature& f, const Rect& cell, const PlotAxis& axis) {
      if (f.departs != departs) return;
      const double place = axis.Place(f.value);
      const double bar = 2 * f.u;
      cairo_move_to(cr, axis.X(place - bar), cell.centre().y());
      cairo_line_to(cr, axis.X(place + bar), cell.centre().y());
    });
    canvas.Stroke({colour, 1});
    each([&](const Feature& f, const Rect& cell, const PlotAxis& axis) {
      if (f.departs != departs) return;
      const double place = axis.Place(f.value);
      AddMarker(cr, f, {axis.X(place), cell.centre().y()}, place);
    });
    canvas.SetColour(colour);
    cairo_fill(cr);
  }
}

void DrawHeader(Canvas& canvas, const Columns& columns, double y) {
  const char* names[kColumns] = {"measure",          "this item",     "± U", "verified items",
                                 "would have shown", "this item, mm", "",    ""};
  const Tag tag(canvas, "TR");
  for (int i = 0; i < kColumns; ++i) {
    if (columns.width[i] <= 0) continue;
    const bool left = i == kLabel || i == kVerdict;
    const double pad = i == kVerdict ? 6 : 0;
    const Tag cell(canvas, "TH");
    if (i == kPlot) {
      canvas.Text({columns.x[i], y}, columns.width[i], "off the verified mean by",
                  {.size = 6.5, .colour = kQuietInk, .align = Align::kCentre, .max_lines = 1});
      for (const double mark : {-kAxisReach, 0.0, kAxisReach}) {
        const double x = columns.x[i] + columns.width[i] / 2 +
                         mark * (columns.width[i] - kPlotPad) / (2 * kAxisReach);
        canvas.Text({x - 15, y + 11}, 30, Fixed(mark, 2, true),
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

// Rows are higher where their words need two lines.
void MeasureRows(Canvas& canvas, const Rect& body, bool has_mm, std::vector<TableRow>& rows) {
  constexpr std::size_t kSurelyFits = 20;  // bytes
  const double width = LayOutColumns(body, has_mm).width[kLabel] - kLabelPad;
  const double line = canvas.TextHeight(width, "0", {.size = kFontSize, .max_lines = 2});
  for (TableRow& row : rows) {
    if (row.kind == TableRow::Kind::kPart) row.height = kRowHeight + 5;
    if (row.feature == nullptr || row.feature->label.size() <= kSurelyFits) continue;
    const double text = canvas.TextHeight(width, row.feature->label, LabelStyle(*row.feature));
    row.height += std::max(0.0, text - line);
  }
}

std::string InMm(const Comparison& c, const Feature& f) {
  if (!HasMm(c) || f.unit != "cap heights") return "";
  // The same relative uncertainty is added to by the scale's own.
  const Measured& scale = c.scale->mm_per_cap_height;
  const double u = std::hypot(f.u * scale.value, f.value * scale.u);
  return fmt::format("{} ± {}", Fixed(f.value * scale.value, 3), Fixed(2 * u, 3));
}

void DrawFeatureRow(Canvas& canvas, const Comparison& c, const Columns& columns, const Feature& f,
                    double y) {
  const auto* sentence = SentenceOf(c, f);
  const std::string cells[kColumns] = {
      f.label,
      Value(f.value, f.unit),
      "±" + Value(2 * f.u, f.unit),
      RangeInWords(f),
      sentence == nullptr ? "" : "±" + Value(sentence->limit, f.unit),
      InMm(c, f),
      "",
      Verdict(f)};
  const Tag tag(canvas, "TR");
  for (int i = 0; i < kColumns; ++i) {
    if (columns.width[i] <= 0) continue;
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
    canvas.Text({columns.x[i] + pad, y + 2.7}, columns.width[i] - pad, cells[i], style);
  }
}

void DrawWordsRow(Canvas& canvas, const Rect& body, const TableRow& row, double y) {
  const bool part = row.kind == TableRow::Kind::kPart;
  const bool words = row.kind == TableRow::Kind::kWords;
  const Tag tag(canvas, "TR");
  const Tag cell(canvas, words ? "TD" : "TH");
  canvas.Text({body.x, y + (part ? 6 : 2.7)}, body.width, row.words,
              {.size = part ? 8.5 : kFontSize,
               .bold = !words,
               .colour = part || words ? kInk : kQuietInk,
               .max_lines = 1,
               .shrinks = true});
}

void DrawTable(Canvas& canvas, const Comparison& c, const Rect& body, double y,
               const std::vector<TableRow>& rows) {
  const Columns columns = LayOutColumns(body, HasMm(c));
  const Tag table(canvas, "Table");
  DrawHeader(canvas, columns, y);
  y += kHeaderHeight - 6;
  canvas.Line({body.x, y}, {body.right(), y}, kInk, 0.6);
  y += 3;
  double top = y;
  std::vector<Plot> plots;
  for (const TableRow& row : rows) {
    if (row.feature != nullptr) {
      DrawFeatureRow(canvas, c, columns, *row.feature, y);
      plots.push_back({row.feature, {columns.x[kPlot], y, columns.width[kPlot], kRowHeight}});
    } else {
      DrawWordsRow(canvas, body, row, y);
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

bool IsHeading(const TableRow& row) {
  return row.kind == TableRow::Kind::kPart || row.kind == TableRow::Kind::kGroup;
}

const char* TableNote() {
  return "Lengths are in cap heights of the wordmark, stroke gain removed; sizes of lines are "
         "ratios "
         "to the wordmark's. U: expanded uncertainty, k = 2, of this photo and of the set's "
         "outlines; that of a departure's amount is smaller, since it is held against items that "
         "were measured with the same outlines. Verified items: their mean and two standard "
         "deviations between items to each "
         "side; genuine items lie outside now and then, so the finding does not rest on single "
         "values but on the departures that were looked for, which see all letters at once. Would "
         "have shown: the smallest departure that nine of ten such photos show. Plot: blue dots "
         "are "
         "verified items, the grey band is their range; a disc with its U bar is this item, a "
         "diamond (or an arrow, beyond the plot) where it departs.";
}

}  // namespace

void PlanTable(const Comparison& comparison, const Rect& body, const TableWords& words,
               Canvas& canvas, Pages& pages) {
  std::vector<TableRow> rows = TableRows(comparison);
  const double note = canvas.TextHeight(body.width, words.note, kNoteStyle);
  if (rows.empty()) {
    pages.push_back({words.heading, [body, words](Canvas& page) {
                       const double y = DrawHeading(page, body, words.heading);
                       page.Text({body.x, y}, body.width, words.if_empty, {.size = 10});
                     }});
    return;
  }
  MeasureRows(canvas, body, HasMm(comparison), rows);
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
    // Headings do not stand alone at the foot of a page.
    const bool more = first + count < rows.size();
    while (more && count > 1 && IsHeading(rows[first + count - 1])) --count;
    std::vector<TableRow> here(rows.begin() + static_cast<std::ptrdiff_t>(first),
                               rows.begin() + static_cast<std::ptrdiff_t>(first + count));
    pages.push_back(
        {is_first ? words.heading : "", [&comparison, body, words, here, is_first](Canvas& page) {
           double y = DrawHeading(page, body, words.heading + (is_first ? "" : ", continued"));
           if (is_first) {
             const Tag tag(page, "P");
             y += page.Text({body.x, y}, body.width, words.note, kNoteStyle) + 10;
           }
           DrawTable(page, comparison, body, y, here);
         }});
    first += count;
  }
}

void PlanMeasurements(const Material& material, Canvas& canvas, Pages& pages) {
  PlanTable(material.comparison, material.body,
            {"Measurements", TableNote(), "Nothing could be measured on this photo."}, canvas,
            pages);
}

}  // namespace debossier::report
