#include "report/front_page.h"

#include <fmt/format.h>

#include <algorithm>
#include <numbers>

#include "results/words.h"

namespace debossier::report {
namespace {

using compare::Finding;
using compare::Reason;

constexpr double kFactRow = 13;
// The set's words may take a second line.
constexpr double kSetRow = 2 * kFactRow - 3;
constexpr double kFigureWidth = 250;
constexpr double kFigureHeight = 62;
constexpr double kFigureGap = 12;
constexpr TextStyle kSummaryText{.size = 11.5, .max_lines = 8};
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

const char* Disclaimer() {
  return "What this does not prove: lettering alone proves nothing about the item as a whole. "
         "No departure found is not a certificate, and a departure can have an honest cause. "
         "The cautions on the last page are part of this result.";
}

double CardTextX(const Figure& figure) {
  return 22 + (figure.empty() ? 0 : kFigureWidth + kFigureGap);
}

// What stands in small print under a card's sentence.
std::vector<std::string> SmallPrint(const Figure& figure, const std::string& seen_in) {
  std::vector<std::string> lines = figure.Numbers();
  if (!seen_in.empty()) lines.push_back(seen_in);
  return lines;
}

}  // namespace

double FactsHeight() { return 3 * kFactRow + kSetRow + 6; }

void DrawFacts(Canvas& canvas, const Rect& body, double y, const std::array<Fact, 4>& left,
               const std::array<Fact, 4>& right) {
  constexpr double kLeft = 310, kBetween = 14;
  for (std::size_t i = 0; i < left.size(); ++i) {
    DrawFact(canvas, {body.x, y}, 72, kLeft, left[i].first, left[i].second, i == 2 ? 2 : 1);
    DrawFact(canvas, {body.x + kLeft + kBetween, y}, 62, body.width - kLeft - kBetween,
             right[i].first, right[i].second, 1);
    y += i == 2 ? kSetRow : kFactRow;
  }
}

std::string ExaminedBy(const ReportFields& fields) {
  return fields.laboratory.empty() || fields.examiner.empty()
             ? fields.examiner + fields.laboratory
             : fmt::format("{}, {}", fields.examiner, fields.laboratory);
}

double FindingHeight(Canvas& canvas, double width, const std::string& summary) {
  return std::max(72.0, 12 + 34 + canvas.TextHeight(width - 92, summary, kSummaryText) + 10);
}

void DrawFindingPanel(Canvas& canvas, const Rect& panel, Finding finding,
                      const std::string& summary) {
  canvas.Fill(panel, kGround);
  canvas.Fill({panel.x, panel.y, 5, panel.height}, FindingColour(finding));
  DrawSign(canvas, {panel.x + 42, panel.centre().y()}, 23, finding);
  {
    const Tag tag(canvas, "H2");
    canvas.Text({panel.x + 80, panel.y + 9}, panel.width - 92, Headline(finding),
                {.size = 26, .bold = true, .max_lines = 1});
  }
  const Tag tag(canvas, "P");
  canvas.Text({panel.x + 80, panel.y + 45}, panel.width - 92, summary, kSummaryText);
}

double CardHeight(Canvas& canvas, const Material& material, const Reason& reason,
                  const std::string& seen_in) {
  const Figure figure(material, reason);
  const double width = material.body.width - CardTextX(figure);
  double text = canvas.TextHeight(width, reason.text, kCardText);
  for (const std::string& line : SmallPrint(figure, seen_in)) {
    text += canvas.TextHeight(width, line, kCardNumbers);
  }
  return std::max(figure.empty() ? 16.0 : kFigureHeight, text + 3);
}

void DrawCard(Canvas& canvas, const Material& material, const Reason& reason, int number,
              const Rect& card, const std::string& seen_in) {
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
  for (const std::string& line : SmallPrint(figure, seen_in)) {
    y += canvas.Text({x, y}, width, line, kCardNumbers);
  }
}

void DrawSubheading(Canvas& canvas, const Rect& body, double y, const std::string& words) {
  const Tag tag(canvas, "H2");
  canvas.Text({body.x, y}, body.width, words, {.size = 11.5, .bold = true, .max_lines = 1});
}

double DisclaimerHeight(Canvas& canvas, double width) {
  return canvas.TextHeight(width - 20, Disclaimer(), kDisclaimerStyle) + 12;
}

void DrawDisclaimer(Canvas& canvas, const Rect& body) {
  const double height = DisclaimerHeight(canvas, body.width);
  const Rect box{body.x, body.bottom() - height, body.width, height};
  canvas.Frame(box, kInk, 0.8);
  const Tag tag(canvas, "P");
  canvas.Text({box.x + 10, box.y + 6}, box.width - 20, Disclaimer(), kDisclaimerStyle);
}

}  // namespace debossier::report
