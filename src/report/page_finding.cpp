// Page one: what was examined, the finding, the questioned lettering over a verified one, the
// strongest reasons, and what all this does not prove.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "compare/category_rates.h"
#include "report/exhibits.h"
#include "results/words.h"

namespace debossier::report {
namespace {

using compare::Comparison;
using compare::Finding;
using compare::Reason;

constexpr int kReasonsOnPageOne = 3;
constexpr double kFactRow = 13;
constexpr double kLimitRow = 13;
constexpr std::size_t kMostLimits = 12;
constexpr double kCardGap = 6;
constexpr double kHeadingHeight = 18;
constexpr double kNoteGap = 3;
constexpr double kLeastPicture = 56;
constexpr double kPictureGap = 6;
constexpr TextStyle kNoteStyle{.size = 9.5, .max_lines = 3};
constexpr TextStyle kCardText{.size = 10, .max_lines = 9};
constexpr TextStyle kCardNumbers{.size = 7.5, .colour = kQuietInk, .max_lines = 2};
constexpr TextStyle kDisclaimerStyle{.size = 8.5};

Colour FindingColour(Finding finding) {
  switch (finding) {
    case Finding::kDeparts:
      return kVermillion;
    case Finding::kNoDepartureFound:
      return kBlue;
    case Finding::kCannotTell:
      return kQuietInk;
  }
  return kInk;
}

// Unequal, equal or a question mark: the finding without colour.
void DrawSign(Canvas& canvas, const Point& centre, double radius, Finding finding) {
  cairo_t* cr = canvas.cr();
  canvas.SetColour(FindingColour(finding));
  cairo_new_sub_path(cr);
  cairo_arc(cr, centre.x(), centre.y(), radius, 0, 2 * std::numbers::pi);
  cairo_fill(cr);
  if (finding == Finding::kCannotTell) {
    canvas.TextCentred(centre, "?", {.size = 1.3 * radius, .bold = true, .colour = kWhite});
    return;
  }
  const double half = 0.45 * radius, apart = 0.2 * radius, width = 0.16 * radius;
  for (const double y : {-apart, apart}) {
    canvas.Line(centre + Point(-half, y), centre + Point(half, y), kWhite, width);
  }
  if (finding == Finding::kDeparts) {
    canvas.Line(centre + Point(-0.26, 0.5) * radius, centre + Point(0.26, -0.5) * radius, kWhite,
                width);
  }
}

// Who, for whom, when: what is not given is left to be written by hand.
void DrawFact(Canvas& canvas, const Point& at, double name_width, double width, const char* name,
              const std::string& value, int max_lines) {
  const Tag tag(canvas, "P");
  canvas.Text(at, name_width, name, {.size = 8.5, .colour = kQuietInk, .max_lines = 1});
  const Point from = at + Point(name_width, 0);
  if (value.empty()) {
    canvas.Line(from + Point(0, kFactRow - 3), from + Point(width - name_width, kFactRow - 3),
                kRule, 0.6);
    return;
  }
  canvas.Text(from, width - name_width, value,
              {.size = 8.5, .max_lines = max_lines, .shrinks = max_lines == 1});
}

// The set's words may take a second line.
constexpr double kSetRow = 2 * kFactRow - 3;
double FactsHeight() { return 3 * kFactRow + kSetRow + 6; }

void DrawFacts(Canvas& canvas, const Material& material, double y) {
  constexpr double kLeft = 310, kBetween = 14;
  const Comparison& c = material.comparison;
  const ReportFields& f = material.options.fields;
  const Rect& body = material.body;
  const std::string maker = MakerInWords(c);
  const std::string set =
      fmt::format("{}{}{}, {}", maker, maker.empty() ? "" : ": ", SetInWords(c), ItemsInWords(c));
  const std::string photo =
      fmt::format("{} ({} × {} pixels)", c.photo.file, c.photo.width, c.photo.height);
  const std::string by = f.laboratory.empty() || f.examiner.empty()
                             ? f.examiner + f.laboratory
                             : fmt::format("{}, {}", f.examiner, f.laboratory);
  const std::pair<const char*, std::string> left[] = {
      {"Item", f.item}, {"Photo", photo}, {"Compared with", set}, {"Examined by", by}};
  const std::pair<const char*, std::string> right[] = {{"Report", material.report_number},
                                                       {"Examined for", f.client},
                                                       {"Examined on", f.examined},
                                                       {"Issued on", f.issued}};
  for (int i = 0; i < 4; ++i) {
    DrawFact(canvas, {body.x, y}, 72, kLeft, left[i].first, left[i].second, i == 2 ? 2 : 1);
    DrawFact(canvas, {body.x + kLeft + kBetween, y}, 62, body.width - kLeft - kBetween,
             right[i].first, right[i].second, 1);
    y += i == 2 ? kSetRow : kFactRow;
  }
}

// The height the finding's panel takes with its summary.
double FindingHeight(Canvas& canvas, const Material& material) {
  const double text = canvas.TextHeight(material.body.width - 92, material.comparison.summary,
                                        {.size = 11.5, .max_lines = 5});
  return std::max(72.0, 12 + 34 + text + 10);
}

void DrawFindingPanel(Canvas& canvas, const Material& material, const Rect& panel) {
  const Comparison& c = material.comparison;
  canvas.Fill(panel, kGround);
  canvas.Fill({panel.x, panel.y, 5, panel.height}, FindingColour(c.finding));
  DrawSign(canvas, {panel.x + 42, panel.centre().y()}, 23, c.finding);
  {
    const Tag tag(canvas, "H2");
    canvas.Text({panel.x + 80, panel.y + 9}, panel.width - 92, Headline(c.finding),
                {.size = 26, .bold = true, .max_lines = 1});
  }
  const Tag tag(canvas, "P");
  canvas.Text({panel.x + 80, panel.y + 45}, panel.width - 92, c.summary,
              {.size = 11.5, .max_lines = 5});
}

constexpr double kFigureWidth = 250;
constexpr double kMostExtra = 60;  // taken by figures where page one has room
constexpr double kFigureHeight = 62;
constexpr double kFigureGap = 12;

double CardTextX(const Figure& figure) {
  return 22 + (figure.empty() ? 0 : kFigureWidth + kFigureGap);
}

double CardHeight(Canvas& canvas, const Material& material, const Reason& reason) {
  const Figure figure(material, reason);
  const double width = material.body.width - CardTextX(figure);
  double text = canvas.TextHeight(width, reason.text, kCardText);
  for (const std::string& line : figure.Numbers()) {
    text += canvas.TextHeight(width, line, kCardNumbers);
  }
  return std::max(figure.empty() ? 16.0 : kFigureHeight, text + 3);
}

void DrawCard(Canvas& canvas, const Material& material, const Reason& reason, int number,
              const Rect& card) {
  const Figure figure(material, reason);
  if (!figure.empty()) figure.Draw(canvas, {card.x + 22, card.y, kFigureWidth, card.height});
  if (material.comparison.finding == Finding::kDeparts) {
    DrawCallout(canvas, {card.x + 8, card.y + 9}, number);
  } else {
    canvas.Text({card.x, card.y}, 18, fmt::format("{}.", number), {.size = 10.5, .bold = true});
  }
  const double x = card.x + CardTextX(figure);
  const double width = card.right() - x;
  const Tag tag(canvas, "P");
  double y = card.y + 3 + canvas.Text({x, card.y}, width, reason.text, kCardText);
  for (const std::string& line : figure.Numbers()) {
    y += canvas.Text({x, y}, width, line, kCardNumbers);
  }
}

// What stands under the photo where there are no reasons to show: limits and advice.
std::vector<std::string> Notes(const Material& material) {
  constexpr std::size_t kMost = 4;
  const Comparison& c = material.comparison;
  const bool limits = c.finding == Finding::kNoDepartureFound;
  std::vector<std::string> notes;
  const std::string hidden =
      limits ? compare::HiddenCategories(c.categories, c.reference) : std::string();
  if (!hidden.empty()) {
    notes.push_back("A photo of this size and sharpness would often not show " + hidden + ".");
  }
  for (const std::string& advice : AllAdvice(c)) notes.push_back(advice);
  notes.resize(std::min(notes.size(), limits ? kMost - 1 : kMost));
  // The limits follow it.
  if (limits) {
    notes.push_back(fmt::format(
        "{} possible departures were looked for. One of the following size would have shown, "
        "wherever on the lettering it is:",
        c.sentences.size() + c.categories.size()));
  }
  return notes;
}

const char* ReasonsHeading(Finding finding) {
  switch (finding) {
    case Finding::kDeparts:
      return "What departs most";
    case Finding::kNoDepartureFound:
      return "What was compared";
    case Finding::kCannotTell:
      return "Why the photo cannot tell";
  }
  return "";
}

const char* NotesHeading(Finding finding) {
  return finding == Finding::kNoDepartureFound ? "What would have been noticed"
                                               : "What to photograph again, and how";
}

const char* Disclaimer() {
  return "What this does not prove: lettering alone proves nothing about the item as a whole. "
         "No departure found is not a certificate, and a departure can have an honest cause. "
         "The cautions on the last page are part of this result.";
}

// What stands below the pictures, laid out before they take what is left.
struct Layout {
  std::vector<double> cards;
  std::vector<std::string> notes;
  std::vector<MeasureLimit> limits;
  double below = 0;  ///< Reasons, notes, limits and disclaimer together.
  double disclaimer = 0;
};

// Reasons, notes, limits and disclaimer together.
double HeightBelow(Canvas& canvas, const Material& material, const Layout& layout) {
  double height = layout.disclaimer + 8;
  for (const double card : layout.cards) height += card + kCardGap;
  if (!layout.cards.empty()) height += kHeadingHeight;
  for (const std::string& note : layout.notes) {
    height += canvas.TextHeight(material.body.width - 12, note, kNoteStyle) + kNoteGap;
  }
  if (!layout.notes.empty()) height += kHeadingHeight;
  return height + kLimitRow * std::ceil(static_cast<double>(layout.limits.size()) / 2);
}

// Lays out what stands below the pictures so that at most `room` is taken; notes are the first to
// go, they stand among the provenance too.
Layout LayOutBelow(Canvas& canvas, const Material& material, double room) {
  const Comparison& c = material.comparison;
  Layout layout;
  layout.disclaimer =
      canvas.TextHeight(material.body.width - 20, Disclaimer(), kDisclaimerStyle) + 12;
  const int count = std::min<int>(kReasonsOnPageOne, static_cast<int>(c.reasons.size()));
  for (int i = 0; i < count; ++i) {
    layout.cards.push_back(CardHeight(canvas, material, c.reasons[i]));
  }
  layout.notes = Notes(material);
  if (c.finding == Finding::kNoDepartureFound) layout.limits = LargestLimits(c);
  if (layout.limits.size() > kMostLimits) layout.limits.resize(kMostLimits);
  layout.below = HeightBelow(canvas, material, layout);
  while (layout.below > room && (!layout.notes.empty() || layout.cards.size() > 1)) {
    if (!layout.notes.empty()) {
      layout.notes.pop_back();
    } else {
      layout.cards.pop_back();
    }
    layout.below = HeightBelow(canvas, material, layout);
  }
  return layout;
}

// Measures and their limits in two columns.
void DrawLimits(Canvas& canvas, const std::vector<MeasureLimit>& limits, const Rect& area) {
  const Tag tag(canvas, "P");
  const double column = area.width / 2;
  const std::size_t rows = std::max<std::size_t>(1, (limits.size() + 1) / 2);
  for (std::size_t i = 0; i < limits.size(); ++i) {
    const Point at(area.x + (i < rows ? 0 : column),
                   area.y + kLimitRow * static_cast<double>(i % rows));
    canvas.Text(at, 110, limits[i].measure, {.size = 9, .colour = kQuietInk, .max_lines = 1});
    canvas.Text(at + Point(112, 0), column - 116, LimitInWords(limits[i]),
                {.size = 9, .max_lines = 1});
  }
}

void DrawBelow(Canvas& canvas, const Material& material, const Layout& layout, double y) {
  const Comparison& c = material.comparison;
  const Rect& body = material.body;
  const auto heading = [&](const char* words) {
    const Tag tag(canvas, "H2");
    canvas.Text({body.x, y}, body.width, words, {.size = 11.5, .bold = true});
    y += kHeadingHeight;
  };
  if (!layout.cards.empty()) heading(ReasonsHeading(c.finding));
  for (std::size_t i = 0; i < layout.cards.size(); ++i) {
    DrawCard(canvas, material, c.reasons[i], static_cast<int>(i) + 1,
             {body.x, y, body.width, layout.cards[i]});
    y += layout.cards[i] + kCardGap;
  }
  if (!layout.notes.empty()) heading(NotesHeading(c.finding));
  for (const std::string& note : layout.notes) {
    const Tag tag(canvas, "P");
    canvas.Fill({body.x + 1, y + 3.2, 3, 3}, kInk);
    y += canvas.Text({body.x + 12, y}, body.width - 12, note, kNoteStyle) + kNoteGap;
  }
  DrawLimits(canvas, layout.limits, {body.x + 12, y + 2, body.width - 12, 0});
  const Rect box{body.x, body.bottom() - layout.disclaimer, body.width, layout.disclaimer};
  canvas.Frame(box, kInk, 0.8);
  const Tag tag(canvas, "P");
  canvas.Text({box.x + 10, box.y + 6}, box.width - 20, Disclaimer(), kDisclaimerStyle);
}

// The height of the pictures that fit `room`: both pairs, or the plain one alone.
struct Pictures {
  double height = 0;
  bool marked = false;  ///< The pair with outlines stands here, too, at half the width.
};

Pictures FitPictures(const Material& material, double room) {
  constexpr double kLeastShare = 0.45;  // of the page's width
  const Box box = *ExhibitBox(material);
  const double whole = material.body.width * box.height() / box.width();
  const double bare = room - PlainPairHeight(0) - kPictureGap;
  const double with_marked = bare - MarkedPairHeight(0, true) - kPictureGap;
  if (with_marked / 2.5 >= kLeastShare * whole) {
    return {std::min(whole, with_marked / 2.5), true};
  }
  return {std::clamp(bare / 2, kLeastPicture, std::max(whole, kLeastPicture)), false};
}

double PicturesHeight(const Pictures& pictures) {
  return PlainPairHeight(pictures.height) + kPictureGap +
         (pictures.marked ? MarkedPairHeight(pictures.height / 2, true) + kPictureGap : 0);
}

double HeaderHeight(Canvas& canvas, const Material& material) {
  return 26 + FactsHeight() + FindingHeight(canvas, material) + 10;
}

// Where the pictures and what is below them stand on page one.
struct PageOne {
  Layout layout;
  Pictures pictures;
};

PageOne Compose(Canvas& canvas, const Material& material) {
  const double room = material.body.height - HeaderHeight(canvas, material);
  PageOne page;
  const double least = material.lettering_box ? PlainPairHeight(kLeastPicture) : kLeastPicture;
  page.layout = LayOutBelow(canvas, material, room - least - 2 * kPictureGap);
  if (!material.lettering_box) return page;
  const double left = room - page.layout.below - kPictureGap;
  page.pictures = FitPictures(material, left);
  if (page.layout.cards.empty()) return page;
  const double unused = left - PicturesHeight(page.pictures);
  const double extra = unused / static_cast<double>(page.layout.cards.size());
  for (double& card : page.layout.cards) card += std::clamp(extra, 0.0, kMostExtra);
  return page;
}

void DrawFindingPage(Canvas& canvas, const Material& material) {
  const Rect& body = material.body;
  const PageOne page = Compose(canvas, material);
  double y = body.y;
  {
    const Tag tag(canvas, "H1");
    canvas.Text({body.x, y}, body.width, "Lettering comparison", {.size = 19, .bold = true});
  }
  y += 26;
  DrawFacts(canvas, material, y);
  y += FactsHeight();
  const double finding = FindingHeight(canvas, material);
  DrawFindingPanel(canvas, material, {body.x, y, body.width, finding});
  y += finding + 10;
  if (!material.lettering_box) {
    const double photo = std::max(kLeastPicture, body.bottom() - y - page.layout.below - 8);
    const Rect panel{body.x, y, body.width, photo};
    const Tag tag(canvas, "Figure");
    canvas.Fill(panel, kGround);
    DrawPhoto(canvas, material.photo,
              ViewOfPhoto(material.photo.width(), material.photo.height(), panel));
    return DrawBelow(canvas, material, page.layout, y + photo + 8);
  }
  const double height = page.pictures.height;
  y += DrawPlainPair(canvas, material, {body.x, y}, body.width, height) + kPictureGap;
  if (page.pictures.marked) {
    y += DrawMarkedPair(canvas, material, {body.x, y}, body.width, height / 2, true,
                        kReasonsOnPageOne) +
         kPictureGap;
  }
  DrawBelow(canvas, material, page.layout, y);
}

}  // namespace

void PlanFinding(const Material& material, Canvas&, Pages& pages) {
  pages.push_back({"Finding", [&material](Canvas& canvas) { DrawFindingPage(canvas, material); }});
}

bool MarkedOnPageOne(const Material& material, Canvas& canvas) {
  return !material.lettering_box || Compose(canvas, material).pictures.marked;
}

std::size_t ReasonsOnPageOne(const Material& material, Canvas& canvas) {
  return Compose(canvas, material).layout.cards.size();
}

}  // namespace debossier::report
