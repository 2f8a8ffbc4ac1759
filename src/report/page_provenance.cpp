// Who examined what for whom, where the result comes from (photo, set, program, options, quality),
// the method with its decision rule, and the cautions.
//
// Holds what ISO/IEC 17025:2017 asks of a report of results (7.8.2.1) and of a statement of
// conformity (7.8.6); opinions stand apart (7.8.7).
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "report/provenance.h"
#include "results/words.h"

namespace debossier::report {
namespace {

using compare::Comparison;

constexpr double kThumbnailWidth = 140;
constexpr double kThumbnailHeight = 110;

void AddPhoto(Chapter& chapter, const Comparison& c) {
  chapter.Heading("Photo");
  chapter.Named("file", c.photo.file);
  chapter.Named("size", fmt::format("{} × {} pixels", c.photo.width, c.photo.height));
  if (c.photo.focal_length_35mm) {
    chapter.Named("focal length",
                  fmt::format("{:.0f} mm for a 35 mm frame", *c.photo.focal_length_35mm));
  }
  chapter.Named("SHA-256", c.photo.sha256);
}

void AddSetAndProgram(Chapter& chapter, const Comparison& c) {
  chapter.Heading("Reference set");
  chapter.Named("set", fmt::format("{}, revision {}", c.refset_id, c.refset_revision));
  chapter.Named("maker", c.refset_maker.empty() ? "not given" : c.refset_maker);
  chapter.Named("period", c.refset_period.empty() ? "not given" : c.refset_period);
  chapter.Named("verified items", ItemsInWords(c));
  if (c.refset_simulated) {
    chapter.Named("simulated", "yes: the maker is invented, the photos of the set are simulated");
  }
  chapter.Heading("Program and options");
  chapter.Named("program", "debossier " + c.program_version);
  for (const auto& [name, value] : c.options) chapter.Named(name, value);
}

void AddResult(Chapter& chapter, const Comparison& c) {
  chapter.Heading("Result in numbers");
  chapter.Named("finding", compare::Name(c.finding));
  chapter.Named("score", Fixed(c.score, 3));
  chapter.Named("features", fmt::format("{}", c.features.size()));
  chapter.Named("stroke gain", fmt::format("{} ± {} (k = 2) cap heights",
                                           Value(c.measured.gain.value, "cap heights"),
                                           Value(2 * c.measured.gain.u, "cap heights")));
  for (const auto& line : c.measured.lines) {
    std::string words = fmt::format("“{}”: {}", line.text, measure::Name(line.line_case));
    if (line.height_ratio.u > 0) {
      words += fmt::format("; height ratio to the wordmark {} ± {} (k = 2)",
                           Value(line.height_ratio.value, "ratio"),
                           Value(2 * line.height_ratio.u, "ratio"));
    }
    chapter.Named("line " + line.id, words);
  }
}

void AddQuality(Chapter& chapter, const Comparison& c) {
  const measure::Quality& q = c.measured.quality;
  chapter.Heading("Quality of the photo");
  chapter.Named("cap height", fmt::format("{} pixels", Fixed(q.cap_height_px, 1)));
  chapter.Named("blur", fmt::format("{} pixels (standard deviation)", Fixed(q.blur_px, 2)));
  chapter.Named("tilt", fmt::format("{}°", Fixed(q.tilt_deg, 1)));
  chapter.Named("turn in the photo", fmt::format("{}°", Fixed(q.turn_deg, 1)));
  chapter.Named("foil coverage", fmt::format("{} %", Fixed(100 * q.coverage, 1)));
  chapter.Named("contrast to noise", Fixed(q.contrast, 1));
  chapter.Named("stretch x against y", fmt::format("{} %", Fixed(100 * q.anisotropy, 2, true)));
  for (const std::string& advice : AllAdvice(c)) chapter.Bullet(advice);
  if (c.measured.warnings.empty()) return;
  chapter.Heading("Warnings");
  for (const Warning& w : c.measured.warnings) {
    chapter.Bullet(w.where.empty() ? w.message : w.where + ": " + w.message);
  }
}

void AddScale(Chapter& chapter, const Comparison& c) {
  if (!c.scale) return;
  chapter.Heading("Scale");
  chapter.Named("scale", ScaleInWords(*c.scale));
  for (const card::ScaleTerm& term : c.scale->terms) {
    chapter.Named("u from " + term.name, fmt::format("{} %", Fixed(100 * term.u, 2)));
  }
  for (const std::string& note : ScaleNotes(*c.scale)) chapter.Bullet(note);
}

void AddDecisionRule(Chapter& chapter, const Comparison& c) {
  const double one_in = c.false_flag_rate > 0 ? std::round(1 / c.false_flag_rate) : 0;
  chapter.Heading("Decision rule");
  chapter.Paragraph(fmt::format(
      "The photo is said to depart where one of the departures that were looked for lies beyond "
      "its "
      "level. The levels are set so that over everything that is looked for together {} of genuine "
      "photos would be said to depart{}. The chance to miss: of ten photos like this one that have "
      "a departure of the size given under \"would have shown\", one would not show it; of smaller "
      "departures more. A photo that shows less than the set asks for gives \"cannot tell\". The "
      "rule applies to the finding as a whole, the level of each departure to that departure.",
      fmt::format("{} %", Fixed(100 * c.false_flag_rate, 2)),
      one_in > 1 ? fmt::format(" (1 in {:.0f})", one_in) : std::string()));
}

// The whole photo beside the facts.
void DrawThumbnail(Canvas& canvas, const Material& material, double y) {
  const Rect panel{material.body.right() - kThumbnailWidth, y, kThumbnailWidth, kThumbnailHeight};
  const double bottom = DrawWholePhoto(canvas, material, panel);
  canvas.Text(
      {panel.x, bottom + 3}, panel.width,
      material.lettering_box ? "the whole photo; the box is the lettering" : "the whole photo",
      {.size = 7.5, .colour = kQuietInk, .align = Align::kCentre});
}

}  // namespace

void AddReport(Chapter& chapter, const ReportFields& f, const std::string& number) {
  chapter.Heading("Report");
  chapter.Named("number", number);
  chapter.Named("issued by", f.laboratory);
  chapter.Named("examined by", f.examiner);
  chapter.Named("examined for", f.client);
  chapter.Named("item", f.item);
  chapter.Named("received on", f.received);
  chapter.Named("examined on", f.examined);
  chapter.Named("issued on", f.issued);
}

void AddMethod(Chapter& chapter) {
  chapter.Heading("Method");
  chapter.Paragraph(
      "The reference outlines are laid over the photo. What the die is not responsible for is "
      "taken "
      "out: the camera's view and the stretch of the leather, the growth of strokes under heat and "
      "pressure, and wear. Each letter, the mark and the frame are then fitted by themselves, and "
      "each measured value gets an uncertainty from its own fit. The values are held against those "
      "of the verified items with their natural spread.");
}

void AddOpinion(Chapter& chapter, const ReportFields& fields, const std::string& number) {
  chapter.Heading("Remarks and opinion of the examiner");
  chapter.Paragraph(
      "All else in this report is the result of measurement by the method above and relates only "
      "to "
      "the photographs examined. What stands here is the examiner's own.");
  if (fields.remarks.empty()) {
    for (int i = 0; i < 3; ++i) chapter.Named("", "");
  } else {
    chapter.Paragraph(fields.remarks);
  }
  chapter.Heading("Signature");
  chapter.Named("name", fields.examiner);
  chapter.Named("place and date", "");
  chapter.Named("signature", "");
  chapter.Paragraph(fmt::format("End of report {}.", number));
}

void AddCautions(Chapter& chapter) {
  chapter.Heading("Cautions");
  for (const std::string& caution : compare::Cautions()) chapter.Bullet(caution);
}

double DrawWholePhoto(Canvas& canvas, const Material& material, const Rect& panel) {
  View view = ViewOfPhoto(material.photo.width(), material.photo.height(), panel);
  view.page_from_photo.offset.y() -= view.FromPhoto({0, -0.5}).y() - panel.y;
  const FigureTag tag(canvas,
                      fmt::format("The whole photo {}{}", material.comparison.photo.file,
                                  material.lettering_box ? ", a box about its lettering" : ""));
  DrawPhoto(canvas, material.photo, view);
  if (material.lettering_box) {
    const Clip clip(canvas, panel);
    view.placement = &material.comparison.measured.placement;
    AddToPath(canvas, view,
              outline::Outline{{outline::Rectangle(Grown(*material.lettering_box, 0.2))}});
    canvas.Stroke({kDepartsColour, 1.2, false, true});
  }
  return view.FromPhoto({0, material.photo.height() - 0.5}).y();
}

void PlanProvenance(const Material& material, Canvas& canvas, Pages& pages) {
  const Comparison& comparison = material.comparison;
  Chapter chapter("Provenance");
  AddReport(chapter, material.options.fields, material.report_number);
  AddPhoto(chapter, comparison);
  chapter.SetAside([&material](Canvas& page, double y) { DrawThumbnail(page, material, y); });
  chapter.LeaveAtRight(kThumbnailWidth + 16);
  AddSetAndProgram(chapter, comparison);
  chapter.LeaveAtRight(0);
  AddResult(chapter, comparison);
  AddQuality(chapter, comparison);
  AddScale(chapter, comparison);
  std::move(chapter).Plan(material.body, canvas, pages);
}

void PlanMethod(const Material& material, Canvas& canvas, Pages& pages) {
  Chapter chapter("Method and cautions");
  AddMethod(chapter);
  AddDecisionRule(chapter, material.comparison);
  AddCautions(chapter);
  AddOpinion(chapter, material.options.fields, material.report_number);
  std::move(chapter).Plan(material.body, canvas, pages);
}

}  // namespace debossier::report
