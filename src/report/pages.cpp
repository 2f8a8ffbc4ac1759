#include "report/pages.h"

#include <fmt/format.h>

#include <algorithm>
#include <numbers>

#include "base/files.h"
#include "results/words.h"

namespace debossier::report {
namespace {

constexpr double kHatchSpacing = 3;

void DrawLegendSample(Canvas& canvas, const Rect& sample, LegendEntry::Kind kind) {
  const Point left(sample.x, sample.centre().y()), right(sample.right(), sample.centre().y());
  const auto stroke = [&](const LineStyle& style) {
    cairo_move_to(canvas.cr(), left.x(), left.y());
    cairo_line_to(canvas.cr(), right.x(), right.y());
    canvas.Stroke(style);
  };
  switch (kind) {
    case LegendEntry::Kind::kReference:
      return stroke(ReferenceStyle(1.0));
    case LegendEntry::Kind::kFound:
      return stroke(FoundStyle(0.9));
    case LegendEntry::Kind::kDeparts:
      return stroke(DepartsStyle(1.6));
    case LegendEntry::Kind::kMissing:
    case LegendEntry::Kind::kExtra: {
      {
        const Clip clip(canvas, sample);
        if (kind == LegendEntry::Kind::kMissing) HatchMissing(canvas, sample);
        if (kind == LegendEntry::Kind::kExtra) HatchExtra(canvas, sample);
      }
      canvas.Frame(sample, kRule, 0.4);
      return;
    }
  }
}

const outline::Element* ElementOf(const outline::Lettering& lettering, const std::string& id) {
  const auto at = std::find_if(lettering.elements.begin(), lettering.elements.end(),
                               [&](const auto& element) { return element.id == id; });
  return at == lettering.elements.end() ? nullptr : &*at;
}

bool IsMark(const outline::Lettering& lettering, const std::string& id) {
  const auto* element = ElementOf(lettering, id);
  return element != nullptr && element->kind == outline::ElementKind::kMark;
}

// The last letter of the mark's line.
std::string LetterBeforeMark(const outline::Lettering& lettering, const std::string& mark_id) {
  const auto* mark = ElementOf(lettering, mark_id);
  std::string last;
  if (mark == nullptr) return last;
  for (const auto& element : lettering.elements) {
    const bool is_letter = element.kind == outline::ElementKind::kLetter;
    if (is_letter && element.line_idx == mark->line_idx) last = element.id;
  }
  return last;
}

// Unique as given; else what this photo, set, program and options and no others give.
std::string ReportNumber(const compare::Comparison& c, const PdfOptions& options) {
  if (!options.fields.number.empty()) return options.fields.number;
  std::string all = fmt::format("{}\n{}\n{}\n", c.photo.sha256, SetInWords(c), c.program_version);
  for (const auto& [name, value] : c.options) all += fmt::format("{}={}\n", name, value);
  for (const FieldName& field : FieldNames()) {
    all += fmt::format("{}\n", options.fields.*(field.value));
  }
  return Sha256Hex(all).substr(0, 12);
}

Exhibit ExhibitFrom(const Straightened& picture) {
  Exhibit exhibit{picture, std::nullopt};
  if (!picture.bgr.empty()) exhibit.image.emplace(picture.bgr);
  return exhibit;
}

// A departing distance is no fault of the letters at its ends, but a mark can stand in the wrong
// place.
void AddDeparting(Material& material, const std::string& measure,
                  const std::vector<std::string>& named) {
  const std::vector<std::string> elements =
      ElementsShown(material.comparison.reference, measure, named);
  const bool is_gap = measure == "gap" || measure == "mark gap";
  if (!is_gap || elements.size() != 2) {
    material.departing.insert(elements.begin(), elements.end());
    return;
  }
  material.departing_gaps.emplace(elements[0], elements[1]);
  for (const std::string& id : elements) {
    if (IsMark(material.comparison.reference, id)) material.departing.insert(id);
  }
}

}  // namespace

const outline::Element* Material::Reference(const std::string& id) const {
  const auto at = element_idx.find(id);
  return at == element_idx.end() ? nullptr : &comparison.reference.elements[at->second];
}

const measure::ElementMeasurement* Material::Found(const std::string& id) const {
  const auto at = found_idx.find(id);
  return at == found_idx.end() ? nullptr : &comparison.measured.elements[at->second];
}

std::optional<Box> LetteringBox(const compare::Comparison& comparison) {
  const auto& elements = comparison.measured.elements;
  const bool any =
      std::any_of(elements.begin(), elements.end(), [](const auto& e) { return e.found; });
  if (!any || comparison.reference.elements.empty()) return std::nullopt;
  Box box = outline::Bounds(comparison.reference);
  for (const auto& element : elements) {
    if (element.found || element.read) box.Add(outline::Bounds(element.outline));
  }
  if (AspectInView(comparison.measured.placement, box) <= 0) return std::nullopt;
  return box;
}

Material GatherMaterial(const compare::Comparison& comparison, const image::Photo& photo,
                        const VerifiedPicture* verified, const PdfOptions& options,
                        const PhotoImage& photo_image, const Rect& body) {
  Material material{
      comparison, options, photo_image, body, LetteringBox(comparison), {}, {}, {}, {}, {}, {}, {},
      {},         {},      {},          {}};
  material.report_number = ReportNumber(comparison, options);
  if (material.lettering_box) {
    Box box = *material.lettering_box;
    box.Add(outline::Bounds(comparison.reference));
    material.questioned = ExhibitFrom(Straighten(photo.bgr, comparison.measured.placement,
                                                 Grown(box, kGroundAbout), kMostPicturePx));
  }
  if (verified != nullptr) {
    material.verified = ExhibitFrom(verified->picture);
    material.verified_item = verified->item;
    material.no_verified = verified->why_not;
  }
  for (std::size_t i = 0; i < comparison.reference.elements.size(); ++i) {
    const outline::Element& element = comparison.reference.elements[i];
    material.element_idx.emplace(element.id, i);
    material.boxes[element.id].Add(outline::Bounds(element.outline));
  }
  for (std::size_t i = 0; i < comparison.measured.elements.size(); ++i) {
    const auto& element = comparison.measured.elements[i];
    if (!element.found && !element.read) continue;
    material.found_idx.emplace(element.id, i);
    material.boxes[element.id].Add(outline::Bounds(element.outline));
  }
  if (comparison.finding == compare::Finding::kDeparts) {
    for (const compare::Reason& reason : comparison.reasons) {
      AddDeparting(material, reason.measure, reason.elements);
    }
  }
  for (const compare::Feature& feature : comparison.features) {
    if (feature.departs) AddDeparting(material, feature.measure, feature.elements);
  }
  return material;
}

std::vector<std::string> ElementsShown(const outline::Lettering& reference,
                                       const std::string& measure,
                                       const std::vector<std::string>& named) {
  std::vector<std::string> shown;
  for (const std::string& name : named) {
    if (measure == "mark gap" && named.size() == 1 && IsMark(reference, name)) {
      const std::string letter = LetterBeforeMark(reference, name);
      if (!letter.empty()) shown.push_back(letter);
    }
    if (ElementOf(reference, name) != nullptr) {
      shown.push_back(name);
      continue;
    }
    for (const auto& element : reference.elements) {
      const auto line = static_cast<std::size_t>(element.line_idx);
      const bool on_line = line < reference.lines.size() && reference.lines[line].id == name;
      if (on_line && element.kind == outline::ElementKind::kLetter) shown.push_back(element.id);
    }
  }
  return shown;
}

Box BoxOf(const Material& material, const std::vector<std::string>& ids) {
  Box box;
  for (const std::string& id : ids) {
    const auto at = material.boxes.find(id);
    if (at != material.boxes.end()) box.Add(at->second);
  }
  return box;
}

double DrawHeading(Canvas& canvas, const Rect& body, const std::string& heading,
                   const std::string& note) {
  double y = body.y;
  {
    const Tag tag(canvas, "H1");
    y += canvas.Text({body.x, y}, body.width, heading, {.size = 16, .bold = true, .max_lines = 1});
  }
  if (!note.empty()) {
    const Tag tag(canvas, "P");
    y += 3;
    y += canvas.Text({body.x, y}, body.width, note, {.size = 9, .colour = kQuietInk});
  }
  y += 6;
  canvas.Line({body.x, y}, {body.right(), y}, kInk, 0.8);
  return y + 10;
}

void AddElement(Canvas& canvas, const Material& material, const View& view, Layer layer,
                const std::string& id) {
  const Box box = BoxOf(material, {id});
  if (!IsInView(view, box)) return;
  if (layer == Layer::kReference) {
    // A line in another case is drawn as it was read: the set's letters over it would hide it.
    const auto* as_read = material.Found(id);
    if (as_read != nullptr && as_read->read) return;
    const auto* reference = material.Reference(id);
    if (reference != nullptr) AddToPath(canvas, view, reference->outline);
    return;
  }
  const auto* found = material.Found(id);
  if (found == nullptr) return;
  if (layer == Layer::kFound || (layer == Layer::kItem && found->foil_edge_px.empty())) {
    AddToPath(canvas, view, found->outline);
  } else if (layer == Layer::kFoilEdge) {
    AddToPath(canvas, view, found->foil_edge_px);
  } else {
    constexpr double kSpeckShare = 0.14;  // of the element's size
    AddToPath(canvas, view, found->foil_edge_px,
              kSpeckShare * std::max(box.width(), box.height()) * view.points_per_cap_height);
  }
}

void DrawElements(Canvas& canvas, const Material& material, const View& view, Layer layer,
                  const std::set<std::string>& ids, const LineStyle& style) {
  for (const std::string& id : ids) AddElement(canvas, material, view, layer, id);
  canvas.Stroke(style);
}

void DrawMissingBoxes(Canvas& canvas, const Material& material, const View& view, bool halo) {
  if (view.placement == nullptr) return;
  for (const std::string& id : material.departing) {
    const Box box = Grown(BoxOf(material, {id}), 0.03);
    if (material.Found(id) != nullptr || !IsInView(view, box)) continue;
    AddToPath(canvas, view, outline::Outline{{outline::Rectangle(box)}});
  }
  canvas.Stroke(DepartsStyle(1.0, halo));
}

void DrawGapMarks(Canvas& canvas, const Material& material, const View& view, bool halo) {
  constexpr double kBeyond = 0.05;  // cap heights past the letters' edges
  for (const auto& [left_id, right_id] : material.departing_gaps) {
    const auto* left = material.Found(left_id);
    const auto* right = material.Found(right_id);
    if (left == nullptr || right == nullptr) continue;
    Box both = left->box;
    both.Add(right->box);
    if (!IsInView(view, both)) continue;
    const double y0 = both.min.y() - kBeyond, y1 = both.max.y() + kBeyond;
    const double x0 = left->box.max.x(), x1 = right->box.min.x();
    const Point bar[] = {view.FromStamp({x0, y1}), view.FromStamp({x0, y0}),
                         view.FromStamp({x1, y0}), view.FromStamp({x1, y1})};
    cairo_move_to(canvas.cr(), bar[0].x(), bar[0].y());
    for (const Point& p : bar) cairo_line_to(canvas.cr(), p.x(), p.y());
  }
  canvas.Stroke(DepartsStyle(1.0, halo));
}

void DrawReferenceFrame(Canvas& canvas, const Material& material, const View& view,
                        const LineStyle& style) {
  const outline::Frame& frame = material.comparison.reference.frame;
  if (view.placement == nullptr || frame.kind == outline::FrameKind::kNone) return;
  AddToPath(canvas, view, outline::FrameOutline(frame));
  canvas.Stroke(style);
}

LineStyle ReferenceStyle(double width, bool halo) { return {kReferenceColour, width, true, halo}; }
LineStyle FoundStyle(double width, bool halo) { return {kFoundColour, width, false, halo}; }
LineStyle DepartsStyle(double width, bool halo) { return {kDepartsColour, width, false, halo}; }

double DrawLegend(Canvas& canvas, const Point& corner, double width,
                  const std::vector<LegendEntry>& entries) {
  constexpr double kSample = 22, kGap = 5, kBetween = 16, kRow = 12;
  const TextStyle style{.size = 8};
  double x = corner.x(), y = corner.y();
  const Tag tag(canvas, "P");
  for (const LegendEntry& entry : entries) {
    const double words = canvas.TextWidth(entry.words, style);
    if (x > corner.x() && x + kSample + kGap + words > corner.x() + width) {
      x = corner.x();
      y += kRow;
    }
    DrawLegendSample(canvas, {x, y + 1, kSample, 8}, entry.kind);
    canvas.Text({x + kSample + kGap, y}, words + 2, entry.words, style);
    x += kSample + kGap + words + kBetween;
  }
  return y + kRow - corner.y();
}

void HatchMissing(Canvas& canvas, const Rect& area) {
  canvas.Hatch(area, 45, kHatchSpacing, kMissingColour, 0.8);
}

void HatchExtra(Canvas& canvas, const Rect& area) {
  canvas.Hatch(area, -45, kHatchSpacing, kExtraColour, 0.8);
  canvas.Hatch(area, 45, kHatchSpacing, kExtraColour, 0.8);
}

void HatchDeparting(Canvas& canvas, const Rect& area) {
  canvas.Hatch(area, -45, 4.5, kDepartsColour, 0.7);
}

void DrawCallout(Canvas& canvas, const Point& centre, int number) {
  constexpr double kRadius = 7;
  cairo_new_sub_path(canvas.cr());
  cairo_arc(canvas.cr(), centre.x(), centre.y(), kRadius, 0, 2 * std::numbers::pi);
  cairo_close_path(canvas.cr());
  canvas.SetColour(kDepartsColour);
  cairo_fill_preserve(canvas.cr());
  canvas.Stroke({kWhite, 1});
  canvas.TextCentred(centre, std::to_string(number), {.size = 9, .bold = true, .colour = kWhite});
}

}  // namespace debossier::report
