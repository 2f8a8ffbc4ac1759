// Page one: what was examined, the finding, the photo with the reference over it, the strongest
// reasons, and what all this does not prove.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "compare/category_rates.h"
#include "report/pages.h"
#include "results/words.h"

namespace debossier::report {
namespace {

using compare::Comparison;
using compare::Finding;
using compare::Reason;

constexpr int kMaxReasons = 3;
constexpr double kCardDrawingWidth = 150;
constexpr double kCardDrawingHeight = 64;
constexpr double kCardMostExtra = 40;  // taken by drawings where page one has room
constexpr double kNumbersRow = 10.5;
constexpr double kLimitRow = 13;
constexpr std::size_t kMostLimits = 12;
constexpr double kCardGap = 7;
constexpr double kLegendHeight = 18;
constexpr double kHeadingHeight = 20;
constexpr double kNoteGap = 3;
constexpr double kLeastPhoto = 90;
constexpr TextStyle kNoteStyle{.size = 9.5, .max_lines = 3};

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

double DrawFacts(Canvas& canvas, const Material& material, double y) {
  const Comparison& c = material.comparison;
  const Rect& body = material.body;
  const std::string maker = MakerInWords(c);
  const std::pair<const char*, std::string> facts[] = {
      {"Photo", fmt::format("{} ({} × {} pixels)", c.photo.file, c.photo.width, c.photo.height)},
      {"Compared with", fmt::format("{}{}{}, {}", maker, maker.empty() ? "" : ": ", SetInWords(c),
                                    ItemsInWords(c))}};
  const Tag tag(canvas, "P");
  for (const auto& [name, value] : facts) {
    canvas.Text({body.x, y}, 84, name, {.size = 9.5, .colour = kQuietInk});
    y += canvas.Text({body.x + 84, y}, body.width - 84, value, {.size = 9.5, .max_lines = 2}) + 2;
  }
  return y;
}

// The height the finding's panel takes with its summary.
double FindingHeight(Canvas& canvas, const Material& material) {
  const double text = canvas.TextHeight(material.body.width - 92, material.comparison.summary,
                                        {.size = 11.5, .max_lines = 4});
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
              {.size = 11.5, .max_lines = 4});
}

std::vector<std::string> ShownBy(const Material& material, const Reason& reason) {
  return ElementsShown(material.comparison.reference, reason.measure, reason.elements);
}

void DrawCallouts(Canvas& canvas, const Material& material, const View& view) {
  const Comparison& c = material.comparison;
  if (c.finding != Finding::kDeparts) return;
  std::vector<Point> taken;
  const int count = std::min<int>(kMaxReasons, static_cast<int>(c.reasons.size()));
  for (int i = 0; i < count; ++i) {
    Box box = BoxOf(material, ShownBy(material, c.reasons[i]));
    if (c.reasons[i].measure.starts_with("frame")) {
      box.Add(outline::Bounds(outline::FrameOutline(c.reference.frame)));
    }
    if (box.empty()) continue;
    Point at = view.FromStamp({box.centre().x(), box.max.y()}) - Point(0, 13);
    at.x() = std::clamp(at.x(), view.panel.x + 9, view.panel.right() - 9);
    at.y() = std::clamp(at.y(), view.panel.y + 9, view.panel.bottom() - 9);
    for (const Point& other : taken) {
      if ((at - other).norm() < 15) at.x() = other.x() + 16;
    }
    taken.push_back(at);
    DrawCallout(canvas, at, i + 1);
  }
}

// Thinner lines over smaller letters, so that the photo beneath still shows.
void DrawReferenceLines(Canvas& canvas, const Material& material, const View& view) {
  std::map<int, std::set<std::string>> ids_of_line;
  for (const auto& element : material.comparison.reference.elements) {
    const int key = element.kind == outline::ElementKind::kMark ? -1 : element.line_idx;
    ids_of_line[key].insert(element.id);
  }
  for (const auto& [line_idx, ids] : ids_of_line) {
    const Box box = BoxOf(material, {*ids.begin()});
    const double width = std::clamp(box.height() * view.points_per_cap_height / 100, 0.3, 0.7);
    DrawElements(canvas, material, view, Layer::kReference, ids, ReferenceStyle(width, true));
  }
}

void DrawPhotoPanel(Canvas& canvas, const Material& material, const Rect& panel) {
  const Tag tag(canvas, "Figure");
  canvas.Fill(panel, kGround);
  if (!material.lettering_box) {
    const View view = ViewOfPhoto(material.photo.width(), material.photo.height(), panel);
    DrawPhoto(canvas, material.photo, view);
    return;
  }
  const View view = ViewOfStamp(material.comparison.measured.placement,
                                Grown(*material.lettering_box, 0.45), panel);
  DrawPhoto(canvas, material.photo, view);
  const Clip clip(canvas, panel);
  DrawReferenceLines(canvas, material, view);
  DrawReferenceFrame(canvas, material, view, ReferenceStyle(0.6, true));
  for (const std::string& id : material.departing) {
    AddElement(canvas, material, view, Layer::kItem, id);
  }
  cairo_save(canvas.cr());
  cairo_set_fill_rule(canvas.cr(), CAIRO_FILL_RULE_EVEN_ODD);
  cairo_clip(canvas.cr());
  if (!material.departing.empty()) HatchDeparting(canvas, panel);
  cairo_restore(canvas.cr());
  DrawElements(canvas, material, view, Layer::kItem, material.departing, DepartsStyle(1.0, true));
  DrawMissingBoxes(canvas, material, view, true);
  DrawGapMarks(canvas, material, view, true);
  DrawCallouts(canvas, material, view);
  DrawScaleBar(canvas, view, {panel.x + 6, panel.bottom() - 5}, material.comparison.scale);
}

void DrawPhotoLegend(Canvas& canvas, const Material& material, double y) {
  if (!material.lettering_box) return;
  std::vector<LegendEntry> entries = {
      {LegendEntry::Kind::kReference, "where the verified items have it (reference)"}};
  if (!material.departing.empty() || !material.departing_gaps.empty()) {
    entries.push_back(
        {LegendEntry::Kind::kDeparts, "where this item has it, if it departs (hatched)"});
  }
  DrawLegend(canvas, {material.body.x, y}, material.body.width, entries);
}

// The elements concerned, reference against found, with their neighbours in grey.
void DrawCardDrawing(Canvas& canvas, const Material& material, const Reason& reason,
                     const Rect& panel) {
  const Tag tag(canvas, "Figure");
  canvas.Fill(panel, kWhite);
  const std::vector<std::string> shown = ShownBy(material, reason);
  const std::set<std::string> concerned(shown.begin(), shown.end());
  const Box box = BoxOf(material, shown);
  const bool drawable = material.lettering_box.has_value() && !box.empty();
  if (drawable) {
    const View view =
        ViewOfStamp(material.comparison.measured.placement, Grown(box, 0.12), panel.Inset(3), 70);
    const Clip clip(canvas, panel);
    std::set<std::string> others;
    for (const auto& [id, idx] : material.element_idx) {
      if (!concerned.contains(id)) others.insert(id);
    }
    if (view.placement != nullptr) {
      DrawElements(canvas, material, view, Layer::kReference, others, {kRule, 0.6});
      for (const std::string& id : concerned) {
        if (const auto* found = material.Found(id)) AddToPath(canvas, view, found->foil_edge_px);
      }
      cairo_set_fill_rule(canvas.cr(), CAIRO_FILL_RULE_EVEN_ODD);
      canvas.SetColour(kFoilGrey);
      cairo_fill(canvas.cr());
      DrawElements(canvas, material, view, Layer::kItem, concerned, DepartsStyle(0.9));
      DrawElements(canvas, material, view, Layer::kReference, concerned, ReferenceStyle(0.8));
      DrawMissingBoxes(canvas, material, view, false);
      if (shown.size() == 2) DrawGapMarks(canvas, material, view, false);
    }
  }
  canvas.Frame(panel, kRule, 0.5);
}

bool HasDrawing(const Material& material, const Reason& reason) {
  return material.lettering_box.has_value() && !BoxOf(material, ShownBy(material, reason)).empty();
}

double CardHeight(Canvas& canvas, const Material& material, const Reason& reason) {
  const bool has_drawing = HasDrawing(material, reason);
  const double width = material.body.width - (has_drawing ? kCardDrawingWidth + 32 : 22);
  const double text = canvas.TextHeight(width, reason.text, {.size = 10.5, .max_lines = 5});
  const double numbers = kNumbersRow * static_cast<double>(NumbersOf(reason).size());
  return std::max(has_drawing ? kCardDrawingHeight : 16.0, text + numbers + 3);
}

void DrawCard(Canvas& canvas, const Material& material, const Reason& reason, int number,
              const Rect& card, double drawing_height) {
  const bool has_drawing = HasDrawing(material, reason);
  if (has_drawing) {
    DrawCardDrawing(canvas, material, reason,
                    {card.x + 22, card.y, kCardDrawingWidth, drawing_height});
  }
  if (material.comparison.finding == Finding::kDeparts) {
    DrawCallout(canvas, {card.x + 8, card.y + 9}, number);
  } else {
    canvas.Text({card.x, card.y}, 18, fmt::format("{}.", number), {.size = 10.5, .bold = true});
  }
  const double x = card.x + (has_drawing ? kCardDrawingWidth + 32 : 22);
  const double width = card.right() - x;
  const Tag tag(canvas, "P");
  double y =
      card.y + 3 + canvas.Text({x, card.y}, width, reason.text, {.size = 10.5, .max_lines = 5});
  for (const std::string& numbers : NumbersOf(reason)) {
    canvas.Text({x, y}, width, numbers, {.size = 8, .colour = kQuietInk, .max_lines = 1});
    y += kNumbersRow;
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
        c.sentences.size()));
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

// What stands below the photo, laid out before the photo takes what is left.
struct Layout {
  std::vector<double> cards;
  std::vector<std::string> notes;
  std::vector<MeasureLimit> limits;
  double finding = 0;
  double below = 0;  ///< Reasons, notes, limits and disclaimer together.
  double disclaimer = 0;
  double extra_height = 0;  ///< For each card's drawing.
};

// Reasons, notes, limits and disclaimer together.
double HeightBelow(Canvas& canvas, const Material& material, const Layout& layout) {
  double height = layout.disclaimer + 16;
  for (const double card : layout.cards) height += card + kCardGap;
  if (!layout.cards.empty()) height += kHeadingHeight;
  for (const std::string& note : layout.notes) {
    height += canvas.TextHeight(material.body.width - 12, note, kNoteStyle) + kNoteGap;
  }
  if (!layout.notes.empty()) height += kHeadingHeight;
  return height + kLimitRow * std::ceil(static_cast<double>(layout.limits.size()) / 2);
}

// Lays out what stands below the photo so that at most `room` is taken; notes are the first to go,
// they stand among the provenance too.
Layout LayOutBelow(Canvas& canvas, const Material& material, double room) {
  const Comparison& c = material.comparison;
  Layout layout;
  layout.disclaimer = canvas.TextHeight(material.body.width - 20, Disclaimer(), {.size = 9}) + 14;
  const int count = std::min<int>(kMaxReasons, static_cast<int>(c.reasons.size()));
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
    const double extra = HasDrawing(material, c.reasons[i]) ? layout.extra_height : 0;
    DrawCard(canvas, material, c.reasons[i], static_cast<int>(i) + 1,
             {body.x, y, body.width, layout.cards[i]}, kCardDrawingHeight + extra);
    y += layout.cards[i] + extra + kCardGap;
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
  canvas.Text({box.x + 10, box.y + 7}, box.width - 20, Disclaimer(), {.size = 9});
}

void DrawFindingPage(Canvas& canvas, const Material& material) {
  const Rect& body = material.body;
  double y = body.y;
  {
    const Tag tag(canvas, "H1");
    y += canvas.Text({body.x, y}, body.width, "Lettering comparison", {.size = 19, .bold = true});
  }
  y = DrawFacts(canvas, material, y + 4) + 6;
  const double finding = FindingHeight(canvas, material);
  DrawFindingPanel(canvas, material, {body.x, y, body.width, finding});
  y += finding + 10;
  const double under_photo = kLegendHeight + 5;
  Layout layout = LayOutBelow(canvas, material, body.bottom() - y - under_photo - kLeastPhoto);

  const double aspect = material.lettering_box
                            ? AspectInView(material.comparison.measured.placement,
                                           Grown(*material.lettering_box, 0.45))
                            : double(material.photo.height()) / std::max(material.photo.width(), 1);
  const double left_over = body.bottom() - y - layout.below - under_photo;
  // Without drawings below, the photo may show more of its surroundings.
  const double least = layout.cards.empty() ? 0.45 : 0;
  const double photo = std::clamp(body.width * std::max(aspect, least), kLeastPhoto,
                                  std::max(left_over, kLeastPhoto));
  if (material.lettering_box && !layout.cards.empty()) {
    layout.extra_height = std::clamp((left_over - photo) / static_cast<double>(layout.cards.size()),
                                     0.0, kCardMostExtra);
  }
  DrawPhotoPanel(canvas, material, {body.x, y, body.width, photo});
  y += photo + 5;
  DrawPhotoLegend(canvas, material, y);
  DrawBelow(canvas, material, layout, y + kLegendHeight);
}

}  // namespace

void PlanFinding(const Material& material, Canvas&, Pages& pages) {
  pages.push_back({"Finding", [&material](Canvas& canvas) { DrawFindingPage(canvas, material); }});
}

}  // namespace debossier::report
