// Page one: what was examined, the finding, the questioned lettering over a verified one, the
// strongest reasons, and what all this does not prove.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "compare/category_rates.h"
#include "report/front_page.h"
#include "results/words.h"

namespace debossier::report {
namespace {

using compare::Comparison;
using compare::Finding;

constexpr int kReasonsOnPageOne = 3;
constexpr double kLimitRow = 13;
constexpr std::size_t kMostLimits = 12;
constexpr double kCardGap = 6;
constexpr double kNoteGap = 3;
constexpr double kLeastPicture = 56;
constexpr double kPictureGap = 6;
constexpr TextStyle kNoteStyle{.size = 9.5, .max_lines = 3};
constexpr double kMostExtra = 60;  // taken by figures where page one has room

void DrawFactsOf(Canvas& canvas, const Material& material, double y) {
  const Comparison& c = material.comparison;
  const ReportFields& f = material.options.fields;
  const std::string maker = MakerInWords(c);
  DrawFacts(
      canvas, material.body, y,
      {{{"Item", f.item},
        {"Photo", fmt::format("{} ({} × {} pixels)", c.photo.file, c.photo.width, c.photo.height)},
        {"Compared with", fmt::format("{}{}{}, {}", maker, maker.empty() ? "" : ": ", SetInWords(c),
                                      ItemsInWords(c))},
        {"Examined by", ExaminedBy(f)}}},
      {{{"Report", material.report_number},
        {"Examined for", f.client},
        {"Examined on", f.examined},
        {"Issued on", f.issued}}});
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
  if (!layout.cards.empty()) height += kSubheadingHeight;
  for (const std::string& note : layout.notes) {
    height += canvas.TextHeight(material.body.width - 12, note, kNoteStyle) + kNoteGap;
  }
  if (!layout.notes.empty()) height += kSubheadingHeight;
  return height + kLimitRow * std::ceil(static_cast<double>(layout.limits.size()) / 2);
}

// Lays out what stands below the pictures so that at most `room` is taken; notes are the first to
// go, they stand among the provenance too.
Layout LayOutBelow(Canvas& canvas, const Material& material, double room) {
  const Comparison& c = material.comparison;
  Layout layout;
  layout.disclaimer = DisclaimerHeight(canvas, material.body.width);
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
    DrawSubheading(canvas, body, y, words);
    y += kSubheadingHeight;
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
  DrawDisclaimer(canvas, body);
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
  return 26 + FactsHeight() +
         FindingHeight(canvas, material.body.width, material.comparison.summary) + 10;
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
    canvas.Text({body.x, y}, body.width,
                "Lettering comparison" + (material.part.empty() ? "" : ", " + material.part),
                {.size = 19, .bold = true, .max_lines = 1});
  }
  y += 26;
  DrawFactsOf(canvas, material, y);
  y += FactsHeight();
  const Comparison& c = material.comparison;
  const double finding = FindingHeight(canvas, body.width, c.summary);
  DrawFindingPanel(canvas, {body.x, y, body.width, finding}, c.finding, c.summary);
  y += finding + 10;
  if (!material.lettering_box) {
    const double photo = std::max(kLeastPicture, body.bottom() - y - page.layout.below - 8);
    const Rect panel{body.x, y, body.width, photo};
    const FigureTag tag(canvas, "The whole photo " + material.comparison.photo.file);
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
