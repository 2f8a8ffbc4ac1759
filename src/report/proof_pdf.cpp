#include "report/proof_pdf.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "base/unicode.h"
#include "base/version.h"
#include "compare/item_lettering.h"
#include "drawing/canvas.h"
#include "report/pages.h"
#include "report/view.h"
#include "results/set_check.h"
#include "results/words.h"
#include "trace/check_letters.h"

namespace debossier::report {
namespace {

constexpr double kMargin = 42;
constexpr double kFooter = 26;

/// Writes down the page and goes to the next one where the room ends.
class Sheet {
 public:
  Sheet(Canvas& canvas, const refset::RefSet& set)
      : canvas_(canvas),
        set_(set),
        body_{kMargin, kMargin, canvas.width() - 2 * kMargin,
              canvas.height() - 2 * kMargin - kFooter},
        y_(body_.y) {}

  const Rect& body() const { return body_; }
  double y() const { return y_; }
  void Skip(double height) { y_ += height; }

  /// A new page where less than `height` is left.
  void Need(double height) {
    if (y_ + height > body_.bottom() && y_ > body_.y) EndPage();
  }
  void Heading(const std::string& text) {
    Need(70);
    if (y_ > body_.y) y_ += 12;
    canvas_.AddBookmark(text, page_);
    const Tag tag(canvas_, "H2");
    y_ += canvas_.Text({body_.x, y_}, body_.width, text, {.size = 12, .bold = true}) + 4;
  }
  void Paragraph(const std::string& text, const TextStyle& style = {.size = 9}) {
    Need(canvas_.TextHeight(body_.width, text, style));
    const Tag tag(canvas_, "P");
    y_ += canvas_.Text({body_.x, y_}, body_.width, text, style) + 3;
  }
  /// One row of cells at these places; columns end where the next begins. Returns its height.
  double Row(const std::vector<double>& x, const std::vector<std::string>& cells,
             const TextStyle& style) {
    double height = 0;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      height = std::max(height, canvas_.TextHeight(Width(x, i), cells[i], style));
    }
    Need(height + 4);
    const Tag row(canvas_, "TR");
    for (std::size_t i = 0; i < cells.size(); ++i) {
      const Tag cell(canvas_, style.bold ? "TH" : "TD");
      canvas_.Text({body_.x + x[i], y_}, Width(x, i), cells[i], style);
    }
    y_ += height + 3;
    return height;
  }
  void Rule() {
    canvas_.Line({body_.x, y_ - 1}, {body_.right(), y_ - 1}, kRule, 0.3);
    y_ += 1.5;
  }
  void EndPage() {
    const double y = body_.bottom() + 8;
    canvas_.Line({body_.x, y}, {body_.right(), y}, kRule, 0.5);
    const TextStyle style{.size = 7.5, .colour = kQuietInk, .max_lines = 1};
    canvas_.Text({body_.x, y + 4}, body_.width - 60,
                 fmt::format("debossier {} · proof sheet of set {}, revision {}", kVersion, set_.id,
                             set_.revision),
                 style);
    TextStyle right = style;
    right.align = Align::kRight;
    canvas_.Text({body_.right() - 56, y + 4}, 56, fmt::format("page {}", page_), right);
    if (set_.simulated) {
      canvas_.Text({body_.x, y + 14}, body_.width,
                   "Demonstration: the maker is invented, the photos are simulated.",
                   {.size = 7.5, .bold = true, .max_lines = 1});
    }
    canvas_.EndPage();
    ++page_;
    y_ = body_.y;
  }

 private:
  double Width(const std::vector<double>& x, std::size_t i) const {
    return (i + 1 < x.size() ? x[i + 1] : body_.width) - x[i] - 6;
  }
  Canvas& canvas_;
  const refset::RefSet& set_;
  Rect body_;
  double y_;
  int page_ = 1;
};

std::set<std::string> Outsiders(const compare::SetCheck& check) {
  std::set<std::string> ids;
  for (const auto& item : check.items) {
    if (!item.belongs) ids.insert(item.item);
  }
  return ids;
}

/// `item` with every distance from `reference` enlarged.
outline::Outline Enlarged(const outline::Outline& item, const outline::Outline& reference,
                          double by) {
  const auto move = [&](const Point& p, const Point& was) { return Point(was + by * (p - was)); };
  outline::Outline out = reference;
  for (std::size_t c = 0; c < out.contours.size(); ++c) {
    auto& contour = out.contours[c];
    const auto& from = item.contours[c];
    contour.start = move(from.start, contour.start);
    for (std::size_t s = 0; s < contour.segments.size(); ++s) {
      auto& segment = contour.segments[s];
      segment.end = move(from.segments[s].end, segment.end);
      segment.control1 = move(from.segments[s].control1, segment.control1);
      segment.control2 = move(from.segments[s].control2, segment.control2);
    }
  }
  return out;
}

struct Laid {
  std::string item;
  std::map<std::string, outline::Outline> outlines;  ///< By element.
};

std::vector<Laid> LayItems(const refset::RefSet& set) {
  std::vector<Laid> laid;
  for (const auto& item : set.items) {
    Laid l{item.id, {}};
    for (auto& e : compare::LetteringOfItem(set, item)) l.outlines[e.id] = std::move(e.outline);
    laid.push_back(std::move(l));
  }
  return laid;
}

/// How far the items' letters can be enlarged away from the set's and still be told apart.
double Enlargement(const refset::RefSet& set, const std::vector<Laid>& laid) {
  std::vector<double> off;
  for (const auto& e : set.lettering.elements) {
    const outline::Box was = outline::Bounds(e.outline);
    for (const auto& l : laid) {
      const auto at = l.outlines.find(e.id);
      if (at == l.outlines.end()) continue;
      const outline::Box is = outline::Bounds(at->second);
      off.push_back(std::max((is.min - was.min).cwiseAbs().maxCoeff(),
                             (is.max - was.max).cwiseAbs().maxCoeff()));
    }
  }
  if (off.empty()) return 1;
  const auto high =
      off.begin() + static_cast<std::ptrdiff_t>(0.9 * static_cast<double>(off.size() - 1));
  std::nth_element(off.begin(), high, off.end());
  constexpr double kShown = 0.06;  // cap heights on the page
  for (const double by : {20.0, 10.0, 5.0, 2.0}) {
    if (by * *high <= kShown) return by;
  }
  return 1;
}

/// A box about each doubtful letter of a line.
void FrameDoubtful(Canvas& canvas, const View& view, const refset::RefSet& set,
                   const std::vector<trace::LetterCheck>& doubtful, int line_idx) {
  for (const auto& check : doubtful) {
    for (const auto& e : set.lettering.elements) {
      if (e.id != check.id || e.line_idx != line_idx) continue;
      outline::Box around = outline::Bounds(e.outline);
      around.min -= Point(0.05, 0.05);
      around.max += Point(0.05, 0.05);
      outline::Outline frame;
      frame.contours.push_back(outline::Rectangle(around));
      AddToPath(canvas, view, frame);
      canvas.Stroke({kDepartsColour, 1.2});
    }
  }
}

/// One line of the lettering across the page: the set's outlines filled, items as thin lines.
void DrawLine(Canvas& canvas, Sheet& sheet, const refset::RefSet& set,
              const std::vector<Laid>& laid, const std::set<std::string>& outsiders,
              const std::vector<trace::LetterCheck>& doubtful, int line_idx, double by) {
  outline::Box box;
  for (const auto& e : set.lettering.elements) {
    if (e.line_idx == line_idx) box.Add(outline::Bounds(e.outline));
  }
  const bool framed = set.lettering.frame.kind != outline::FrameKind::kNone &&
                      (set.lettering.frame.line_idx == line_idx ||
                       (set.lettering.frame.line_idx < 0 && line_idx == 0));
  if (framed) box.Add(outline::Bounds(outline::FrameOutline(set.lettering.frame)));
  if (box.empty() || box.width() <= 0) return;
  const double pad = 0.15;
  const double scale =
      std::min(sheet.body().width / (box.width() + 2 * pad), 150 / (box.height() + 2 * pad));
  const double height = scale * (box.height() + 2 * pad);
  sheet.Need(height + 16);
  const fit::Placement upright;  // the stamp frame itself
  View view;
  view.panel = {sheet.body().x - 8, sheet.y(), sheet.body().width + 16, height};
  view.placement = &upright;
  view.points_per_cap_height = scale;
  view.page_from_photo.linear << scale, 0, 0, -scale;
  view.page_from_photo.offset = Point(sheet.body().centre().x() - scale * box.centre().x(),
                                      sheet.y() + scale * (box.max.y() + pad));
  cairo_t* cr = canvas.cr();
  {
    const FigureTag tag(
        canvas, fmt::format("Outlines of \"{}\", filled, with those of every item over them.",
                            set.lettering.lines[static_cast<std::size_t>(line_idx)].text));
    const Clip clip(canvas, view.panel);
    for (const auto& e : set.lettering.elements) {
      if (e.line_idx == line_idx) AddToPath(canvas, view, e.outline);
    }
    if (framed) AddToPath(canvas, view, outline::FrameOutline(set.lettering.frame));
    canvas.SetColour(kFoilGrey);
    cairo_set_fill_rule(cr, CAIRO_FILL_RULE_WINDING);
    cairo_fill(cr);
    for (const bool out : {false, true}) {
      for (const auto& l : laid) {
        if (outsiders.contains(l.item) != out) continue;
        for (const auto& e : set.lettering.elements) {
          const auto at = l.outlines.find(e.id);
          if (e.line_idx != line_idx || at == l.outlines.end()) continue;
          AddToPath(canvas, view, Enlarged(at->second, e.outline, by));
        }
        canvas.Stroke(out ? LineStyle{kDepartsColour, 0.9, true} : LineStyle{kBlue, 0.35});
      }
    }
    FrameDoubtful(canvas, view, set, doubtful, line_idx);
  }
  sheet.Skip(height + 2);
}

void DrawIdentity(Canvas& canvas, Sheet& sheet, const refset::RefSet& set,
                  const compare::SetCheck& check) {
  const Rect& body = sheet.body();
  {
    const Tag tag(canvas, "H1");
    canvas.AddBookmark("Proof sheet", 1);
    sheet.Skip(canvas.Text({body.x, sheet.y()}, body.width,
                           fmt::format("Proof sheet: {}", OneLine(set.id)),
                           {.size = 18, .bold = true, .max_lines = 2}) +
               2);
  }
  const auto given = [](const std::string& text) { return text.empty() ? "not given" : text; };
  sheet.Paragraph(
      fmt::format("{}{}{} · revision {} · {} verified item{} · made from {}", set.labels.maker,
                  set.labels.period.empty() ? "" : ", ", set.labels.period, set.revision,
                  set.items.size(), set.items.size() == 1 ? "" : "s", set.source),
      {.size = 10});
  sheet.Paragraph(fmt::format("entered by {} on {}", given(set.labels.entered_by),
                              given(set.labels.entered_on)),
                  {.size = 9, .colour = kQuietInk});
  sheet.Skip(3);
  const bool sound = check.is_consistent();
  const double height =
      canvas.TextHeight(body.width - 20, VerdictInWords(check), {.size = 11, .bold = true});
  canvas.Frame({body.x, sheet.y(), body.width, height + 14}, sound ? kRule : kDepartsColour, 1);
  {
    const Tag tag(canvas, "P");
    canvas.Text({body.x + 10, sheet.y() + 7}, body.width - 20, VerdictInWords(check),
                {.size = 11, .bold = true});
  }
  sheet.Skip(height + 22);
}

void DrawOutlines(Canvas& canvas, Sheet& sheet, const refset::RefSet& set,
                  const compare::SetCheck& check) {
  const auto laid = LayItems(set);
  const double by = Enlargement(set, laid);
  std::vector<trace::LetterCheck> doubtful;
  if (!set.items.empty()) {  // a font's letters are what they are
    doubtful = trace::CheckLetters(set.lettering);
    std::erase_if(doubtful, [](const auto& c) { return !trace::IsDoubtful(c); });
  }
  sheet.Heading("Outlines, and the items laid over them");
  for (std::size_t l = 0; l < set.lettering.lines.size(); ++l) {
    DrawLine(canvas, sheet, set, laid, Outsiders(check), doubtful, static_cast<int>(l), by);
  }
  if (!doubtful.empty()) {
    sheet.Paragraph(
        fmt::format("In boxes: outlines that are hardly the letters of the text; {}. They may have "
                    "been cut in the wrong place, or the text is not what is stamped. Look at the "
                    "items' photos before this set decides anything.",
                    trace::InWords(doubtful, set.lettering)),
        {.size = 9, .bold = true});
  }
  std::string note = "Grey: the set's outlines, the mean of its items. ";
  if (set.items.empty()) {
    note = "Grey: the set's outlines. No verified item is behind them.";
  } else {
    note += fmt::format(
        "Blue lines: each item's letters by place, width and height as measured, {}the space "
        "between blue lines is the band in which the items lie.",
        by > 1 ? fmt::format("their distances from the outlines {:.0f} times enlarged; ", by)
               : std::string("at true scale; "));
    if (!Outsiders(check).empty()) {
      note += " Dashed and orange: an item that does not belong with the others.";
    }
  }
  sheet.Paragraph(note, {.size = 8, .colour = kQuietInk});
}

void DrawItems(Sheet& sheet, const refset::RefSet& set) {
  if (set.items.empty() && set.retired.empty()) return;
  sheet.Heading("Items");
  const std::vector<double> x = {0, 48, 190, 320, 440};
  sheet.Row(x, {"item", "photo, SHA-256", "basis of verification", "entered", "photo quality"},
            {.size = 7.5, .bold = true, .colour = kQuietInk});
  for (const auto& i : set.items) {
    sheet.Row(x,
              {i.id, fmt::format("{}, {}…", i.photo_file, i.photo_sha256.substr(0, 12)),
               i.basis.empty() ? "not given" : i.basis,
               fmt::format("{}, {}", i.entered_on.empty() ? "date not given" : i.entered_on,
                           i.entered_by.empty() ? "name not given" : i.entered_by),
               fmt::format("{:.0f} px, blur {:.1f} px, foil {:.0f} %", i.cap_height_px, i.blur_px,
                           100 * i.coverage)},
              {.size = 8});
    sheet.Rule();
  }
  for (const auto& i : set.retired) {
    sheet.Row(x,
              {i.id, fmt::format("{}, {}…", i.photo_file, i.photo_sha256.substr(0, 12)),
               "retired: " + i.reason, fmt::format("{}, {}", i.on, i.by), ""},
              {.size = 8, .colour = kQuietInk});
    sheet.Rule();
  }
}

/// Places of strengths from 0 (left) to three times what would be said (right).
double PlaceOf(double strength, const Rect& plot) {
  return plot.x + plot.width * std::clamp(strength / 3, 0.0, 1.0);
}

void DrawLeaveOneOut(Canvas& canvas, Sheet& sheet, const compare::SetCheck& check) {
  if (check.items.empty()) return;
  sheet.Heading("Each item against all others");
  sheet.Paragraph(
      fmt::format(
          "How far each item strays from the others in what it says most, over what would be "
          "said (at a false-flag rate of {:g} for all {} items). Right of the line an item "
          "does not belong.",
          check.false_flag_rate, check.items.size()),
      {.size = 8, .colour = kQuietInk});
  const std::vector<double> x = {0, 60, 110, 320};
  for (const auto& item : check.items) {
    sheet.Need(18);
    const Rect plot{sheet.body().x + 110, sheet.y(), 195, 11};
    canvas.Line({plot.x, plot.centre().y()}, {plot.right(), plot.centre().y()}, kRule, 0.5);
    const double limit = PlaceOf(1, plot);
    canvas.Line({limit, plot.y}, {limit, plot.bottom()}, kVermillion, 0.8);
    cairo_t* cr = canvas.cr();
    cairo_new_sub_path(cr);
    if (item.belongs) {
      cairo_arc(cr, PlaceOf(item.strength, plot), plot.centre().y(), 2.8, 0, 6.2832);
    } else {
      const Point at(PlaceOf(item.strength, plot), plot.centre().y());
      cairo_move_to(cr, at.x(), at.y() - 4);
      cairo_line_to(cr, at.x() + 4, at.y());
      cairo_line_to(cr, at.x(), at.y() + 4);
      cairo_line_to(cr, at.x() - 4, at.y());
    }
    cairo_close_path(cr);
    canvas.SetColour(item.belongs ? kBlue : kDepartsColour);
    cairo_fill(cr);
    sheet.Row(x,
              {item.item, Fixed(item.strength, 2), "",
               fmt::format("{}, z {}", item.furthest, Fixed(item.furthest_z, 1, true))},
              {.size = 8});
    for (const auto& reason : item.reasons) sheet.Paragraph(reason.text, {.size = 8});
  }
  const auto& d = check.division;
  if (d.tried) {
    sheet.Skip(4);
    sheet.Paragraph(
        fmt::format("Two dies: the division that parts the items most, {} from {}, reaches {} of "
                    "what would be said over all divisions; {}.",
                    fmt::join(d.first, ", "), fmt::join(d.second, ", "), Fixed(d.strength, 2),
                    d.two_dies ? "the items are of two dies" : "one die explains the items"));
    if (d.two_dies) {
      for (const auto& s : d.separations) sheet.Paragraph("Second group: " + s.text, {.size = 8});
    }
  }
}

void DrawReach(Sheet& sheet, const compare::SetCheck& check) {
  sheet.Heading("What the set can show, and what not");
  if (!check.reach.empty()) {
    sheet.Paragraph(
        "The smallest departure that would be flagged in a questioned photo, in the median of the "
        "measure: lengths in % of the wordmark's cap height. Good and usual: the uncertainty of "
        "the "
        "better quarter and of the middle one of the items' photos; poor: twice that of the worst.",
        {.size = 8, .colour = kQuietInk});
    const std::vector<double> x = {0, 110, 175, 240, 305};
    sheet.Row(x, {"measure", "good photo", "usual photo", "poor photo", "worst (usual photo)"},
              {.size = 7.5, .bold = true, .colour = kQuietInk});
    for (const auto& r : check.reach) {
      sheet.Row(x,
                {r.measure, ReachInWords(r.good, r.unit), ReachInWords(r.usual, r.unit),
                 ReachInWords(r.poor, r.unit),
                 fmt::format("{}: {}", r.worst_label, ReachInWords(r.worst, r.unit))},
                {.size = 8});
      sheet.Rule();
    }
  }
  for (const auto& need : check.needs) sheet.Paragraph("• " + need, {.size = 9});
}

void DrawFeatures(Canvas& canvas, Sheet& sheet, const compare::SetCheck& check) {
  if (check.features.empty()) return;
  sheet.Heading("Features");
  constexpr double kReach = 0.05;
  sheet.Paragraph(
      fmt::format("Mean and standard deviation of the items in cap heights; spread: as comparisons "
                  "use it, with the photos' uncertainty removed and shrunk towards the usual one. "
                  "Plot: the items about their mean, from -{0:.0f} to +{0:.0f} % of cap height.",
                  100 * kReach),
      {.size = 8, .colour = kQuietInk});
  const std::vector<double> x = {0, 186, 232, 286, 328, 365};
  const TextStyle head{.size = 7.5, .bold = true, .colour = kQuietInk};
  sheet.Row(x, {"feature", "mean", "deviation", "spread", "items", ""}, head);
  for (const compare::SetFeature& f : check.features) {
    sheet.Need(14);
    const Rect plot{sheet.body().x + 365, sheet.y(), sheet.body().width - 365, 9};
    cairo_t* cr = canvas.cr();
    canvas.Line({plot.centre().x(), plot.y}, {plot.centre().x(), plot.bottom()}, kRule, 0.5);
    for (const double v : f.items) {
      const double at = std::clamp((v - f.mean) / kReach, -1.0, 1.0);
      cairo_move_to(cr, plot.centre().x() + 0.48 * plot.width * at, plot.centre().y());
      cairo_close_path(cr);
    }
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    canvas.Stroke({kBlue, 2.6});
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_BUTT);
    sheet.Row(x,
              {f.label, Fixed(f.mean, 4), f.items.size() > 1 ? Fixed(f.deviation, 4) : "–",
               Fixed(f.spread, 4), fmt::format("{}", f.items.size()), ""},
              {.size = 7.5});
    sheet.Rule();
  }
}

void DrawCautions(Sheet& sheet) {
  sheet.Heading("Cautions");
  for (const std::string& caution : compare::Cautions()) sheet.Paragraph("• " + caution);
}

}  // namespace

Result<std::string> ProofPdf(const refset::RefSet& set, const compare::SetCheck& check,
                             const PdfOptions& options) {
  const Point size = PageSize(options.paper);
  Canvas canvas(size.x(), size.y(), options.font_family);
  canvas.SetTitle(fmt::format("Proof sheet: {}", OneLine(set.id)),
                  fmt::format("revision {}", set.revision), std::string("debossier ") + kVersion);
  canvas.SetCreationDate(nullptr);
  Sheet sheet(canvas, set);
  DrawIdentity(canvas, sheet, set, check);
  DrawOutlines(canvas, sheet, set, check);
  DrawItems(sheet, set);
  DrawLeaveOneOut(canvas, sheet, check);
  DrawReach(sheet, check);
  DrawFeatures(canvas, sheet, check);
  DrawCautions(sheet);
  sheet.EndPage();
  return canvas.Finish();
}

}  // namespace debossier::report
