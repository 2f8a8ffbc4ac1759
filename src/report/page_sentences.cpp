// Every sentence that was tried: what it reads on this photo, what it would have taken to be said,
// and how small a departure would have shown.
//
// Plot: z over the level of its sentence; between the ends of the band nothing is said.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>

#include "report/pages.h"
#include "results/words.h"

namespace debossier::report {
namespace {

using compare::TriedSentence;

constexpr double kRowHeight = 12.5;
constexpr double kHeaderHeight = 24;
constexpr double kFontSize = 7.1;
constexpr double kPlotReach = 2;  // levels

enum Column { kLabel, kRead, kU, kZ, kLevel, kOdds, kLimit, kPlot, kVerdict, kColumns };
constexpr std::array<double, kColumns> kWidths = {0, 44, 40, 32, 36, 88, 44, 76, 44};
constexpr std::array<const char*, kColumns> kNames = {
    "about", "read", "± U", "z", "said beyond", "chance", "would have shown", "", ""};

std::array<double, kColumns + 1> LayOutColumns(const Rect& body) {
  std::array<double, kColumns + 1> x{};
  double rest = body.width;
  for (const double w : kWidths) rest -= w;
  x[0] = body.x;
  for (int i = 0; i < kColumns; ++i) {
    const auto k = static_cast<std::size_t>(i);
    x[k + 1] = x[k] + (i == kLabel ? rest : kWidths[k]);
  }
  return x;
}

/// A heading (without a sentence) or a sentence.
struct Row {
  const TriedSentence* sentence = nullptr;
  std::string heading;
  bool is_part = false;  ///< A heading over others.
};

/// Of several sentences of one measure about one subject the strongest.
std::vector<const TriedSentence*> Strongest(const compare::Comparison& comparison) {
  std::vector<const TriedSentence*> out;
  for (const TriedSentence& s : comparison.sentences) {
    const auto same = std::find_if(out.begin(), out.end(), [&](const auto* other) {
      return other->measure == s.measure && other->elements == s.elements;
    });
    if (same == out.end()) {
      out.push_back(&s);
    } else if (std::abs(s.z) / s.level > std::abs((*same)->z) / (*same)->level) {
      *same = &s;
    }
  }
  return out;
}

/// What is said first, then what could not be told, then the rest by measure.
std::vector<Row> RowsOf(const compare::Comparison& comparison) {
  const auto all = Strongest(comparison);
  std::vector<Row> rows;
  const auto add_part = [&](const char* heading, auto belongs) {
    bool begun = false;
    std::string measure;
    for (const auto* s : all) {
      if (!belongs(*s)) continue;
      if (!begun) rows.push_back({nullptr, heading, true});
      begun = true;
      const std::string own = fmt::format("{} ({})", s->measure, s->unit);
      if (own != measure) rows.push_back({nullptr, own});
      measure = own;
      rows.push_back({s, ""});
    }
  };
  add_part("Said", [](const TriedSentence& s) { return s.departs; });
  add_part("Could not be told: one as small as the set asks for would not have shown",
           [](const TriedSentence& s) { return !s.departs && !s.decidable; });
  add_part("Looked for and not said",
           [](const TriedSentence& s) { return !s.departs && s.decidable; });
  return rows;
}

void DrawPlot(Canvas& canvas, const TriedSentence& s, const Rect& cell) {
  const double unit = (cell.width - 12) / (2 * kPlotReach);
  const Point middle = cell.centre();
  canvas.Fill({middle.x() - unit, cell.y + 1.5, 2 * unit, cell.height - 3}, kGround);
  const double share = s.level > 0 ? s.z / s.level : 0;
  const double x = middle.x() + unit * std::clamp(share, -kPlotReach, kPlotReach);
  cairo_t* cr = canvas.cr();
  cairo_new_sub_path(cr);
  cairo_arc(cr, x, middle.y(), s.departs ? 3 : 2, 0, 2 * std::numbers::pi);
  canvas.SetColour(s.departs ? kDepartsColour : kInk);
  cairo_fill(cr);
}

void DrawRow(Canvas& canvas, const std::array<double, kColumns + 1>& x, const TriedSentence& s,
             double y) {
  const std::array<std::string, kColumns> cells = {s.label,
                                                   Value(s.amplitude, s.unit, true),
                                                   "±" + Value(2 * s.u, s.unit),
                                                   Fixed(s.z, 1, true),
                                                   Fixed(s.level, 1),
                                                   OddsInWords(s.p, s.beyond),
                                                   Value(s.limit, s.unit),
                                                   "",
                                                   s.departs ? "departs" : ""};
  const Tag row(canvas, "TR");
  for (int i = 0; i < kColumns; ++i) {
    const auto k = static_cast<std::size_t>(i);
    const Tag cell(canvas, "TD");
    if (i == kPlot) {
      DrawPlot(canvas, s, {x[k], y, x[k + 1] - x[k], kRowHeight});
      continue;
    }
    TextStyle style{.size = kFontSize, .bold = s.departs, .max_lines = 1, .shrinks = true};
    if (i != kLabel && i != kVerdict) style.align = Align::kRight;
    if (i == kVerdict) style.colour = s.departs ? kDepartsColour : kQuietInk;
    const double pad = i == kVerdict ? 5 : 0;
    canvas.Text({x[k] + pad, y + 2.4}, x[k + 1] - x[k] - pad - 2, cells[k], style);
  }
}

void DrawRows(Canvas& canvas, const Rect& body, double y, const std::vector<Row>& rows) {
  const auto x = LayOutColumns(body);
  const Tag table(canvas, "Table");
  {
    const Tag header(canvas, "TR");
    for (int i = 0; i < kColumns; ++i) {
      const auto k = static_cast<std::size_t>(i);
      const Tag cell(canvas, "TH");
      canvas.Text({x[k], y}, x[k + 1] - x[k] - 2, kNames[k],
                  {.size = 6.5,
                   .colour = kQuietInk,
                   .align = i == kLabel ? Align::kLeft : Align::kRight,
                   .max_lines = 2});
    }
  }
  y += kHeaderHeight - 4;
  canvas.Line({body.x, y}, {body.right(), y}, kInk, 0.6);
  y += 2;
  for (const Row& row : rows) {
    if (row.sentence != nullptr) {
      DrawRow(canvas, x, *row.sentence, y);
    } else {
      const Tag group(canvas, "TR");
      const Tag cell(canvas, "TH");
      canvas.Text({body.x, y + 2.4}, body.width, row.heading,
                  {.size = row.is_part ? 8.5 : kFontSize,
                   .bold = true,
                   .colour = row.is_part ? kInk : kQuietInk,
                   .max_lines = 1});
    }
    y += kRowHeight;
    cairo_move_to(canvas.cr(), body.x, y);
    cairo_line_to(canvas.cr(), body.right(), y);
  }
  canvas.Stroke({kRule, 0.25});
}

std::string Note(const compare::Comparison& c) {
  return fmt::format(
      "Each row is one departure that was looked for. Read: its size on this photo, from the "
      "places and sizes of all letters together, with what camera, leather and pressing may do "
      "left open. U: expanded uncertainty, k = 2. z: the size over its standard uncertainty, on "
      "the scale of a normal distribution; beyond the level it is said. Levels are set so that all "
      "rows together say something wrong of {:g} % of genuine photos. Chance: p of one row alone "
      "where its distribution is known, else how many simulated genuine photos lay beyond the "
      "level when it "
      "was measured. Would have shown: the smallest departure that nine of ten such photos show. "
      "Plot: z over the level, the grey band from minus to plus the level.",
      100 * c.false_flag_rate);
}

}  // namespace

void PlanSentences(const Material& material, Canvas& canvas, Pages& pages) {
  const std::vector<Row> rows = RowsOf(material.comparison);
  if (rows.empty()) return;
  const Rect& body = material.body;
  constexpr double kHeading = 40;
  const TextStyle small{.size = 7.6, .colour = kQuietInk};
  const double note = canvas.TextHeight(body.width, Note(material.comparison), small) + 10;
  for (std::size_t first = 0; first < rows.size();) {
    const bool is_first = first == 0;
    const double room = body.height - kHeading - kHeaderHeight - (is_first ? note : 0);
    std::size_t count = std::min(rows.size() - first, static_cast<std::size_t>(room / kRowHeight));
    // A heading does not stand alone at the foot of a page.
    const bool more = first + count < rows.size();
    while (more && count > 1 && rows[first + count - 1].sentence == nullptr) --count;
    const std::vector<Row> here(rows.begin() + static_cast<std::ptrdiff_t>(first),
                                rows.begin() + static_cast<std::ptrdiff_t>(first + count));
    pages.push_back(
        {is_first ? "Departures looked for" : "", [&material, here, is_first, small](Canvas& page) {
           double y =
               DrawHeading(page, material.body,
                           is_first ? "Departures looked for" : "Departures looked for, continued");
           if (is_first) {
             const Tag tag(page, "P");
             y += page.Text({material.body.x, y}, material.body.width, Note(material.comparison),
                            small) +
                  10;
           }
           DrawRows(page, material.body, y, here);
         }});
    first += count;
  }
}

}  // namespace debossier::report
