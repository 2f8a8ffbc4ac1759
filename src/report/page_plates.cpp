// Plates: each letter or mark of another form as a large photo crop beside a drawing that tells
// missing foil from extra foil, with its numbers.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/pages.h"
#include "results/words.h"

namespace debossier::report {
namespace {

using compare::Feature;

constexpr double kBetweenPanels = 11;
constexpr double kTitleHeight = 18;
constexpr std::size_t kMostNumbers = 8;

/// A letter or mark whose form is compared.
struct Plate {
  std::string id;
  std::vector<const Feature*> features;
  std::string text;  ///< What the reason says.
};

Plate& PlateFor(std::vector<Plate>& plates, const std::string& id) {
  const auto same =
      std::find_if(plates.begin(), plates.end(), [&](const Plate& p) { return p.id == id; });
  if (same != plates.end()) return *same;
  plates.push_back({id, {}, ""});
  return plates.back();
}

// Of what reasons say is of another form, those without a place or size that departs first.
std::vector<Plate> DepartingPlates(const Material& material) {
  std::vector<Plate> plates;
  const compare::Comparison& c = material.comparison;
  for (const compare::Reason& reason : c.reasons) {
    const bool is_form = reason.u == 0 && reason.measure != "case";
    if (!is_form || c.finding != compare::Finding::kDeparts) continue;
    for (const std::string& id : reason.elements) {
      if (BoxOf(material, {id}).empty()) continue;
      Plate& plate = PlateFor(plates, id);
      if (plate.text.empty()) plate.text = reason.text;
    }
  }
  for (const Feature& feature : c.features) {
    if (!feature.departs || feature.measure != "letterform" || feature.elements.empty() ||
        BoxOf(material, feature.elements).empty()) {
      continue;
    }
    PlateFor(plates, feature.elements.front()).features.push_back(&feature);
  }
  return plates;
}

void AddFoil(Canvas& canvas, const Material& material, const View& view, const Plate& plate) {
  const auto* found = material.Found(plate.id);
  if (found != nullptr) AddToPath(canvas, view, found->foil_edge_px);
}

bool HasFoilEdge(const Material& material, const Plate& plate) {
  const auto* found = material.Found(plate.id);
  return found != nullptr && !found->foil_edge_px.empty();
}

void AddFoundOutlines(Canvas& canvas, const Material& material, const View& view,
                      const Plate& plate) {
  const auto* found = material.Found(plate.id);
  if (found != nullptr) AddToPath(canvas, view, found->outline);
}

void DrawPhotoPanel(Canvas& canvas, const Material& material, const View& view,
                    const Plate& plate) {
  const FigureTag tag(canvas, plate.text + " In the photo, with both outlines.");
  DrawPhoto(canvas, material.photo, view);
  const Clip clip(canvas, view.panel);
  const std::set<std::string> ids = {plate.id};
  DrawElements(canvas, material, view, Layer::kFoilEdge, ids, FoundStyle(0.6, true));
  DrawElements(canvas, material, view, Layer::kReference, ids, ReferenceStyle(0.9, true));
}

// The upright rectangle of the page around a box of the stamp, within the view's panel.
Rect PageRect(const View& view, const Box& box) {
  Box page;
  for (const double x : {box.min.x(), box.max.x()}) {
    for (const double y : {box.min.y(), box.max.y()}) page.Add(view.FromStamp({x, y}));
  }
  const Rect& panel = view.panel;
  const double x0 = std::clamp(page.min.x(), panel.x, panel.right());
  const double y0 = std::clamp(page.min.y(), panel.y, panel.bottom());
  return {x0, y0, std::clamp(page.max.x(), panel.x, panel.right()) - x0,
          std::clamp(page.max.y(), panel.y, panel.bottom()) - y0};
}

// Painted in layers: extra foil first, the reference with its gain over it, then what is missing.
void DrawFormPanel(Canvas& canvas, const Material& material, const View& view, const Plate& plate) {
  cairo_t* cr = canvas.cr();
  const FigureTag tag(canvas, plate.text + " Its form over that of the verified items.");
  const Clip clip(canvas, view.panel);
  const Rect hatched = PageRect(view, Grown(BoxOf(material, {plate.id}), 0.1));
  cairo_save(cr);
  cairo_set_fill_rule(cr, CAIRO_FILL_RULE_EVEN_ODD);
  AddFoil(canvas, material, view, plate);
  cairo_clip(cr);
  HatchExtra(canvas, hatched);
  cairo_restore(cr);

  const double gain =
      2 * std::abs(material.comparison.measured.placement.gain) * view.points_per_cap_height;
  AddFoundOutlines(canvas, material, view, plate);
  canvas.SetColour(kFoilGrey);
  cairo_fill_preserve(cr);
  canvas.Stroke({kFoilGrey, gain});

  cairo_save(cr);
  AddFoundOutlines(canvas, material, view, plate);
  cairo_clip(cr);
  cairo_set_fill_rule(cr, CAIRO_FILL_RULE_EVEN_ODD);
  cairo_rectangle(cr, view.panel.x, view.panel.y, view.panel.width, view.panel.height);
  AddFoil(canvas, material, view, plate);
  cairo_clip(cr);
  canvas.Fill(view.panel, kWhite);
  HatchMissing(canvas, hatched);
  cairo_restore(cr);

  AddFoil(canvas, material, view, plate);
  canvas.Stroke(FoundStyle(0.6));
  AddFoundOutlines(canvas, material, view, plate);
  canvas.Stroke(ReferenceStyle(0.9));
}

// Where the elements stand, against where the reference has them.
void DrawPlacePanel(Canvas& canvas, const Material& material, const View& view,
                    const Plate& plate) {
  cairo_t* cr = canvas.cr();
  const FigureTag tag(canvas, plate.text + " Its place against that of the verified items.");
  const Clip clip(canvas, view.panel);
  const std::set<std::string> ids = {plate.id};
  cairo_set_fill_rule(cr, CAIRO_FILL_RULE_EVEN_ODD);
  AddFoil(canvas, material, view, plate);
  canvas.SetColour(kFoilGrey);
  cairo_fill(cr);
  DrawElements(canvas, material, view, Layer::kItem, ids, DepartsStyle(1.0));
  DrawElements(canvas, material, view, Layer::kReference, ids, ReferenceStyle(0.9));
  DrawGapMarks(canvas, material, view, false);
}

std::vector<std::string> Numbers(const Material& material, const Plate& plate) {
  std::vector<std::string> lines;
  if (!plate.text.empty()) lines.push_back(plate.text);
  for (const Feature* f : plate.features) {
    lines.push_back(fmt::format("{}: {} ± {} (k = 2), verified {} with spread {} {}; z {}",
                                f->label, Value(f->value, f->unit), Value(2 * f->u, f->unit),
                                Value(f->expected, f->unit), Value(f->spread, f->unit), f->unit,
                                Fixed(f->z, 1, true)));
  }
  if (const auto* found = material.Found(plate.id)) {
    const auto percent = [](double share) { return Fixed(100 * share, 1); };
    const measure::ShapeDistance& s = found->shape;
    lines.push_back(fmt::format(
        "Edge against reference, in % of cap height: root mean square {}, 95 % within {}, "
        "smoothed {} ± {} (k = 2), inward {}, outward {}",
        percent(s.rms), percent(s.p95), percent(s.smooth_rms), percent(2 * s.u),
        percent(s.signed_missing_rms), percent(s.signed_extra_rms)));
    lines.push_back(
        fmt::format("Missing foil {} %, extra foil {} % of the reference's area; "
                    "centre off by {} to the right and {} up (% of cap height)",
                    percent(s.missing), percent(s.extra), percent(found->offset.x()),
                    percent(found->offset.y())));
  }
  if (lines.size() > kMostNumbers) lines.resize(kMostNumbers);
  return lines;
}

std::string Title(const Material& material, const Plate& plate) {
  const auto* element = material.Reference(plate.id);
  return (element == nullptr ? plate.id : element->character) + " (" + plate.id + ")";
}

void DrawPlate(Canvas& canvas, const Material& material, const Plate& plate, const Rect& area) {
  {
    const Tag tag(canvas, "H2");
    canvas.Text({area.x, area.y}, area.width, Title(material, plate),
                {.size = 11.5, .bold = true, .max_lines = 1});
  }
  const std::vector<std::string> numbers = Numbers(material, plate);
  const TextStyle style{.size = 8.3, .max_lines = 2};
  double text = 0;
  for (const std::string& line : numbers) text += canvas.TextHeight(area.width, line, style) + 2;
  const double width = (area.width - kBetweenPanels) / 2;
  const Rect left{area.x, area.y + kTitleHeight, width,
                  std::max(40.0, area.height - kTitleHeight - text - 8)};
  const Rect right{left.right() + kBetweenPanels, left.y, width, left.height};
  const Box box = Grown(BoxOf(material, {plate.id}), 0.14);
  const auto& placement = material.comparison.measured.placement;
  const View photo_view = ViewOfStamp(placement, box, left);
  const View drawn_view = ViewOfStamp(placement, box, right);
  if (photo_view.placement != nullptr) {
    DrawPhotoPanel(canvas, material, photo_view, plate);
    if (HasFoilEdge(material, plate)) {
      DrawFormPanel(canvas, material, drawn_view, plate);
    } else {
      DrawPlacePanel(canvas, material, drawn_view, plate);
    }
    DrawScaleBar(canvas, drawn_view, {right.x + 3, right.bottom() - 2}, material.comparison.scale);
  }
  canvas.Frame(left, kRule, 0.5);
  canvas.Frame(right, kRule, 0.5);
  double y = left.bottom() + 6;
  for (const std::string& line : numbers) {
    const Tag tag(canvas, "P");
    y += canvas.Text({area.x, y}, area.width, line, style) + 2;
  }
}

void DrawPlatesPage(Canvas& canvas, const Material& material, const std::vector<Plate>& plates,
                    const std::string& note) {
  const Rect& body = material.body;
  double y = DrawHeading(canvas, body, "Departing forms", note);
  y += DrawLegend(canvas, {body.x, y}, body.width,
                  {{LegendEntry::Kind::kReference, "reference outline"},
                   {LegendEntry::Kind::kFound, "edge of the foil"},
                   {LegendEntry::Kind::kDeparts, "this item"},
                   {LegendEntry::Kind::kMissing, "missing foil"},
                   {LegendEntry::Kind::kExtra, "extra foil"}}) +
       6;
  const double height = (body.bottom() - y) / 2;
  for (const Plate& plate : plates) {
    DrawPlate(canvas, material, plate, {body.x, y, body.width, height - 12});
    y += height;
  }
}

}  // namespace

void PlanPlates(const Material& material, Canvas&, Pages& pages) {
  if (!material.lettering_box) return;
  std::vector<Plate> plates = DepartingPlates(material);
  const std::size_t most = static_cast<std::size_t>(std::max(material.options.max_plates, 0));
  std::string note =
      "Left: the photo. Right: a drawing at the same size, with the reference moved to where the "
      "letter was found, so that only its form is compared; foil within the stroke gain counts as "
      "agreeing.";
  if (plates.size() > most) {
    note += fmt::format(" {} more departing elements are listed with the measurements only.",
                        plates.size() - most);
    plates.resize(most);
  }
  for (std::size_t i = 0; i < plates.size(); i += 2) {
    const std::vector<Plate> here(
        plates.begin() + static_cast<std::ptrdiff_t>(i),
        plates.begin() + static_cast<std::ptrdiff_t>(std::min(i + 2, plates.size())));
    pages.push_back({i == 0 ? "Departing forms" : "",
                     [&material, here, text = i == 0 ? note : std::string()](Canvas& canvas) {
                       DrawPlatesPage(canvas, material, here, text);
                     }});
  }
}

}  // namespace debossier::report
