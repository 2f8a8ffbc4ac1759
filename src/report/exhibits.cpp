#include "report/exhibits.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "compare/tell.h"
#include "report/dimension.h"
#include "results/words.h"

namespace debossier::report {

namespace {

constexpr double kGroundShown = 0.3;  // about the lettering, cap heights

/// Where a straightened picture is missing, the stamp's frame itself, turned downwards.
const fit::Placement& Upright() {
  static const fit::Placement upright = [] {
    fit::Placement p;
    p.photo_from_stamp.diagonal() << 1, -1, 1;
    return p;
  }();
  return upright;
}

const Exhibit& ExhibitOf(const Material& material, Whose whose) {
  return whose == Whose::kQuestioned ? material.questioned : material.verified;
}

/// Elements of lines that were read as other letters: the set's outlines over them would hide them.
std::set<std::string> Recast(const Material& material) {
  std::set<std::string> lines, ids;
  for (const auto& e : material.comparison.measured.elements) {
    if (e.read) lines.insert(e.id.substr(0, e.id.find('.')));
  }
  for (const auto& [id, idx] : material.element_idx) {
    if (lines.contains(id.substr(0, id.find('.')))) ids.insert(id);
  }
  return ids;
}

std::set<std::string> Without(const std::set<std::string>& ids, const std::set<std::string>& out) {
  std::set<std::string> rest;
  std::set_difference(ids.begin(), ids.end(), out.begin(), out.end(),
                      std::inserter(rest, rest.end()));
  return rest;
}

void FillReference(Canvas& canvas, const Material& material, const View& view) {
  for (const auto& e : material.comparison.reference.elements) AddToPath(canvas, view, e.outline);
  AddToPath(canvas, view, outline::FrameOutline(material.comparison.reference.frame));
  cairo_set_fill_rule(canvas.cr(), CAIRO_FILL_RULE_WINDING);
  canvas.SetColour(kQuietInk);
  cairo_fill(canvas.cr());
}

/// The line under a whole line of lettering that departs.
void DrawUnderline(Canvas& canvas, const View& view, const Box& box) {
  const double y = view.FromStamp(box.min).y() + 3;
  const double x0 = view.FromStamp(box.min).x(), x1 = view.FromStamp(box.max).x();
  cairo_move_to(canvas.cr(), x0, y - 3);
  for (const Point& p : {Point(x0, y), Point(x1, y), Point(x1, y - 3)}) {
    cairo_line_to(canvas.cr(), p.x(), p.y());
  }
  canvas.Stroke(DepartsStyle(1.0, true));
}

Box ReferenceBox(const Material& material, const std::vector<std::string>& ids) {
  Box box;
  for (const std::string& id : ids) {
    if (const auto* e = material.Reference(id)) box.Add(outline::Bounds(e->outline));
  }
  return box;
}

Box BoxIn(const Material& material, Whose whose, const std::string& id) {
  if (whose == Whose::kVerified) return ReferenceBox(material, {id});
  const auto* found = material.Found(id);
  return found == nullptr ? Box() : outline::Bounds(found->outline);
}

/// Of the frame that the photo has; empty where it has none.
Box FoundFrameBox(const Material& material) {
  return outline::Bounds(outline::FrameOutline(material.comparison.measured.frame.found));
}

bool FrameDeparts(const Material& material) {
  const auto& c = material.comparison;
  return c.finding == compare::Finding::kDeparts &&
         std::any_of(c.reasons.begin(), c.reasons.end(),
                     [](const auto& reason) { return reason.measure.starts_with("frame"); });
}

}  // namespace

std::vector<std::string> ShownBy(const Material& material, const compare::Reason& reason) {
  return ElementsShown(material.comparison.reference, reason.measure, reason.elements);
}

std::optional<Box> ExhibitBox(const Material& material) {
  if (!material.lettering_box) return std::nullopt;
  Box box = *material.lettering_box;
  box.Add(outline::Bounds(material.comparison.reference));
  box.Add(FoundFrameBox(material));
  return Grown(box, kGroundShown);
}

View ViewOfExhibit(const Material& material, Whose whose, const Box& box, const Rect& panel) {
  const Exhibit& exhibit = ExhibitOf(material, whose);
  View view =
      ViewOfStamp(exhibit.empty() ? Upright() : exhibit.picture.picture_from_stamp, box, panel);
  if (whose == Whose::kQuestioned) view.edges_from = &material.comparison.measured.placement;
  return view;
}

void DrawExhibit(Canvas& canvas, const Material& material, Whose whose, const View& view) {
  const FigureTag tag(canvas, ExhibitCaption(material, whose));
  const Clip clip(canvas, view.panel);
  canvas.Fill(view.panel, kGround);
  const Exhibit& exhibit = ExhibitOf(material, whose);
  if (!exhibit.empty()) {
    exhibit.image->Draw(canvas.cr(), view.page_from_photo);
  } else if (whose == Whose::kVerified && view.placement != nullptr) {
    FillReference(canvas, material, view);
  }
}

void DrawExhibitOutlines(Canvas& canvas, const Material& material, Whose whose, const View& view) {
  if (view.placement == nullptr) return;
  const Clip clip(canvas, view.panel);
  const std::set<std::string> recast = Recast(material);
  const std::set<std::string> departing = Without(material.departing, recast);
  std::set<std::string> plain;
  for (const auto& [id, idx] : material.element_idx) {
    if (!recast.contains(id) && !departing.contains(id)) plain.insert(id);
  }
  const double width = std::clamp(view.points_per_cap_height / 60, 0.25, 0.7);
  DrawElements(canvas, material, view, Layer::kReference, plain, ReferenceStyle(width, true));
  DrawReferenceFrame(canvas, material, view, ReferenceStyle(width, true));
  if (whose == Whose::kQuestioned) {
    DrawElements(canvas, material, view, Layer::kReference, departing, ReferenceStyle(width, true));
    DrawElements(canvas, material, view, Layer::kItem, departing, DepartsStyle(1.4 * width, true));
    if (FrameDeparts(material)) {
      AddToPath(canvas, view, outline::FrameOutline(material.comparison.measured.frame.found));
      canvas.Stroke(DepartsStyle(1.4 * width, true));
    }
    DrawMissingBoxes(canvas, material, view, true);
    DrawGapMarks(canvas, material, view, true);
  } else {
    DrawElements(canvas, material, view, Layer::kReference, departing,
                 DepartsStyle(1.4 * width, true));
    if (FrameDeparts(material)) {
      DrawReferenceFrame(canvas, material, view, DepartsStyle(1.4 * width, true));
    }
  }
  std::map<std::string, std::vector<std::string>> lines;
  for (const std::string& id : recast) {
    if (material.departing.contains(id)) lines[id.substr(0, id.find('.'))].push_back(id);
  }
  for (const auto& [line, ids] : lines) {
    DrawUnderline(canvas, view,
                  whose == Whose::kVerified ? ReferenceBox(material, ids) : BoxOf(material, ids));
  }
}

void DrawCallouts(Canvas& canvas, const Material& material, Whose whose, const View& view,
                  int count) {
  const compare::Comparison& c = material.comparison;
  if (c.finding != compare::Finding::kDeparts || view.placement == nullptr) return;
  constexpr double kWholeLine = 5;  // times as wide as high
  std::vector<Point> taken;
  for (int i = 0; i < std::min<int>(count, static_cast<int>(c.reasons.size())); ++i) {
    const auto shown = ShownBy(material, c.reasons[i]);
    Box box = whose == Whose::kVerified ? ReferenceBox(material, shown) : BoxOf(material, shown);
    if (c.reasons[i].measure.starts_with("frame")) {
      box.Add(outline::Bounds(outline::FrameOutline(c.reference.frame)));
      box.Add(FoundFrameBox(material));
    }
    if (box.empty()) continue;
    const bool whole_line = box.width() > kWholeLine * box.height();
    Point at = whole_line ? view.FromStamp({box.min.x(), box.centre().y()}) - Point(11, 0)
                          : view.FromStamp({box.centre().x(), box.max.y()}) - Point(0, 9);
    at.x() = std::clamp(at.x(), view.panel.x + 9, view.panel.right() - 9);
    at.y() = std::clamp(at.y(), view.panel.y + 9, view.panel.bottom() - 9);
    for (const Point& other : taken) {
      if ((at - other).norm() < 15) at.x() = other.x() + 16;
    }
    taken.push_back(at);
    DrawCallout(canvas, at, i + 1);
  }
}

std::string ExhibitCaption(const Material& material, Whose whose) {
  const compare::Comparison& c = material.comparison;
  if (whose == Whose::kQuestioned) return fmt::format("Questioned item: {}", c.photo.file);
  if (!material.verified.empty()) {
    return fmt::format("A verified item of the set ({}), at the same scale",
                       material.verified_item);
  }
  return fmt::format("Verified items, at the same scale: their mean outline, drawn ({})",
                     material.no_verified.empty() ? "no photo of a verified item was given"
                                                  : material.no_verified);
}

namespace {

constexpr double kCaptionHeight = 11;
constexpr double kBetweenPictures = 4;
constexpr double kLegendHeight = 17;
constexpr double kScaleBar = 180;  // room for it beside the legend

void DrawCaption(Canvas& canvas, const Material& material, Whose whose, const Point& corner,
                 double width) {
  const Tag tag(canvas, "Caption");
  canvas.Text(corner, width, ExhibitCaption(material, whose),
              {.size = 8, .bold = true, .colour = kQuietInk, .max_lines = 1, .shrinks = true});
}

}  // namespace

double PlainPairHeight(double picture) { return 2 * (kCaptionHeight + picture) + kBetweenPictures; }

double DrawPlainPair(Canvas& canvas, const Material& material, const Point& corner, double width,
                     double picture) {
  const auto box = ExhibitBox(material);
  if (!box) return 0;
  double y = corner.y();
  for (const Whose whose : {Whose::kQuestioned, Whose::kVerified}) {
    DrawCaption(canvas, material, whose, {corner.x(), y}, width);
    y += kCaptionHeight;
    DrawExhibit(canvas, material, whose,
                ViewOfExhibit(material, whose, *box, {corner.x(), y, width, picture}));
    y += picture + kBetweenPictures;
  }
  return PlainPairHeight(picture);
}

double MarkedPairHeight(double picture, bool beside) {
  return (beside ? picture : PlainPairHeight(picture)) + kLegendHeight;
}

double DrawMarkedPair(Canvas& canvas, const Material& material, const Point& corner, double width,
                      double picture, bool beside, int callouts) {
  const auto box = ExhibitBox(material);
  if (!box) return 0;
  const double each = beside ? (width - kBetweenPictures) / 2 : width;
  Point at = corner;
  View scale;
  for (const Whose whose : {Whose::kQuestioned, Whose::kVerified}) {
    if (!beside) {
      DrawCaption(canvas, material, whose, at, each);
      at.y() += kCaptionHeight;
    }
    const View view = ViewOfExhibit(material, whose, *box, {at.x(), at.y(), each, picture});
    DrawExhibit(canvas, material, whose, view);
    DrawExhibitOutlines(canvas, material, whose, view);
    DrawCallouts(canvas, material, whose, view, callouts);
    scale = view;
    at += beside ? Point(each + kBetweenPictures, 0) : Point(0, picture + kBetweenPictures);
  }
  std::vector<LegendEntry> entries = {
      {LegendEntry::Kind::kReference, "outline of the verified items"}};
  if (!material.departing.empty() || !material.departing_gaps.empty() || FrameDeparts(material)) {
    entries.push_back({LegendEntry::Kind::kDeparts, "what departs, on both"});
  }
  const double y = beside ? corner.y() + picture + 4 : at.y() + 2;
  DrawLegend(canvas, {corner.x(), y}, width - kScaleBar, entries);
  DrawScaleBar(canvas, scale, {corner.x() + width - kScaleBar, y + 11}, material.comparison.scale);
  return MarkedPairHeight(picture, beside);
}

namespace {

std::string Length(double value, const compare::Comparison& c, const std::string& unit) {
  std::string words = Fixed(value, 3);
  if (unit == "cap heights" && c.scale && c.scale->is_known()) {
    words += fmt::format(" = {} mm", Fixed(value * c.scale->mm_per_cap_height.value, 2));
  }
  return words;
}

/// Between which edges the length of a departure lies, on one of the two items.
class Lengths {
 public:
  Lengths(const Material& material, Whose whose, const compare::Reason& reason,
          const std::vector<std::string>& shown)
      : material_(material), whose_(whose), reason_(reason), shown_(shown) {}

  /// In the stamp's frame, y up; none where there is no such length to draw.
  struct Span {
    Point from;
    Point to;
    bool upright;
  };
  std::optional<Span> Find() const {
    const std::string& m = reason_.measure;
    if (shown_.empty()) return std::nullopt;
    const Box first = BoxIn(material_, whose_, shown_.front());
    const Box last = BoxIn(material_, whose_, shown_.back());
    if (first.empty() || last.empty()) return std::nullopt;
    if ((m == "gap" || m == "mark gap") && shown_.size() == 2) {
      return Span{{first.max.x(), first.min.y()}, {last.min.x(), last.min.y()}, false};
    }
    if (m == "letter size" || m == "letter height" || m == "mark size" || m == "line height") {
      return Span{first.min, {first.min.x(), first.max.y()}, true};
    }
    if (m == "letter width") return Span{first.min, {first.max.x(), first.min.y()}, false};
    if (m == "letter place across" || m == "mark rise" || m == "baseline") {
      return Span{{first.min.x(), Baseline(shown_.front())}, first.min, true};
    }
    if (m == "tracking") return Span{first.min, {last.max.x(), first.min.y()}, false};
    return std::nullopt;
  }

 private:
  double Baseline(const std::string& id) const {
    const auto* e = material_.Reference(id);
    const auto& lines = material_.comparison.reference.lines;
    const auto line = e == nullptr ? lines.size() : static_cast<std::size_t>(e->line_idx);
    return line < lines.size() ? lines[line].baseline : 0;
  }

  const Material& material_;
  Whose whose_;
  const compare::Reason& reason_;
  const std::vector<std::string>& shown_;
};

}  // namespace

Figure::Figure(const Material& material, const compare::Reason& reason)
    : material_(material), reason_(reason), shown_(ShownBy(material, reason)) {
  constexpr double kMostBeside = 3.5;  // of a cut-out's height
  const compare::Comparison& c = material.comparison;
  if (!material.lettering_box) return;
  Box box = BoxOf(material, shown_);
  const bool is_frame = reason.measure.starts_with("frame");
  if (is_frame) {
    box.Add(outline::Bounds(outline::FrameOutline(c.reference.frame)));
    box.Add(FoundFrameBox(material));
  }
  if (box.empty()) return;
  const double margin = std::clamp(0.45 * box.height(), 0.12, 0.45);
  box_ = Grown(box, margin);
  stacked_ = box_.width() > kMostBeside * box_.height();
}

std::vector<std::string> Figure::Numbers() const {
  std::vector<std::string> numbers = NumbersOf(reason_);
  if (const compare::Feature* f = compare::FeatureOf(material_.comparison, reason_)) {
    numbers.insert(numbers.begin(),
                   fmt::format("this item {} ± {}, verified {} {}", Value(f->value, f->unit),
                               Value(2 * f->u, f->unit), RangeInWords(*f), f->unit));
  }
  return numbers;
}

void Figure::Draw(Canvas& canvas, const Rect& area) const {
  constexpr double kBetween = 4;
  constexpr double kCaption = 9;
  const compare::Comparison& c = material_.comparison;
  const double width = stacked_ ? area.width : (area.width - kBetween) / 2;
  const double height = (stacked_ ? (area.height - kBetween) / 2 : area.height) - kCaption;
  for (const Whose whose : {Whose::kQuestioned, Whose::kVerified}) {
    const bool second = whose == Whose::kVerified;
    const Rect panel{area.x + (second && !stacked_ ? width + kBetween : 0),
                     area.y + kCaption + (second && stacked_ ? height + kCaption + kBetween : 0),
                     width, height};
    canvas.Text({panel.x, panel.y - kCaption}, width, second ? "verified" : "questioned",
                {.size = 6.5, .colour = kQuietInk, .max_lines = 1});
    const View view = ViewOfExhibit(material_, whose, box_, panel);
    DrawExhibit(canvas, material_, whose, view);
    const auto span = Lengths(material_, whose, reason_, shown_).Find();
    if (span && view.placement != nullptr) {
      const compare::Feature* f = compare::FeatureOf(c, reason_);
      Dimension d;
      d.from = view.FromStamp(span->from);
      d.to = view.FromStamp(span->to);
      d.upright = span->upright;
      d.at = d.upright ? std::max(panel.x + 9, std::min(d.from.x(), d.to.x()) - 9)
                       : std::min(panel.bottom() - 6, std::max(d.from.y(), d.to.y()) + 9);
      // What is told of a line's spacing is told a letter, not of its whole length.
      if (f != nullptr && reason_.measure != "tracking") {
        d.words = second ? RangeInWords(*f, 3) : Length(f->value, c, f->unit);
      }
      DrawDimension(canvas, d, panel, second ? kReferenceColour : kDepartsColour);
    }
    canvas.Frame(panel, kRule, 0.5);
  }
}

}  // namespace debossier::report
