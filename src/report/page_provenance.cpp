// Who examined what for whom, where the result comes from (photo, set, program, options, quality),
// the method with its decision rule, and the cautions.
//
// Holds what ISO/IEC 17025:2017 asks of a report of results (7.8.2.1) and of a statement of
// conformity (7.8.6); opinions stand apart (7.8.7).
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/pages.h"
#include "results/words.h"

namespace debossier::report {
namespace {

using compare::Comparison;

constexpr double kNameWidth = 118;
constexpr double kThumbnailWidth = 140;
constexpr double kThumbnailHeight = 110;
constexpr double kHeadingRoom = 40;
constexpr double kBlankHeight = 17;  // to write in by hand

// A block of text that stays together on one page.
struct Block {
  enum class Kind { kHeading, kNamed, kParagraph, kBullet } kind;
  std::string name;
  std::string text;
  bool beside_thumbnail = false;
};

TextStyle StyleOf(const Block& block) {
  return block.kind == Block::Kind::kHeading ? TextStyle{.size = 11.5, .bold = true}
         : block.kind == Block::Kind::kNamed ? TextStyle{.size = 9}
                                             : TextStyle{.size = 10};
}

double TextX(const Block& block, const Rect& body) {
  switch (block.kind) {
    case Block::Kind::kNamed:
      return body.x + kNameWidth;
    case Block::Kind::kBullet:
      return body.x + 12;
    default:
      return body.x;
  }
}

double TextWidth(const Block& block, const Rect& body) {
  return body.right() - TextX(block, body) - (block.beside_thumbnail ? kThumbnailWidth + 16 : 0);
}

double BlockHeight(Canvas& canvas, const Block& block, const Rect& body) {
  if (block.kind == Block::Kind::kNamed && block.text.empty()) return kBlankHeight;
  const double text = canvas.TextHeight(TextWidth(block, body), block.text, StyleOf(block));
  return text + (block.kind == Block::Kind::kHeading ? 17
                 : block.kind == Block::Kind::kNamed ? 2
                                                     : 4);
}

void DrawBlock(Canvas& canvas, const Block& block, const Rect& body, double y) {
  const bool heading = block.kind == Block::Kind::kHeading;
  const Tag tag(canvas, heading ? "H2" : "P");
  if (heading) y += 10;
  if (block.kind == Block::Kind::kNamed) {
    canvas.Text({body.x, y}, kNameWidth - 8, block.name,
                {.size = 9, .colour = kQuietInk, .max_lines = 1});
  }
  if (block.kind == Block::Kind::kNamed && block.text.empty()) {
    canvas.Line({TextX(block, body), y + kBlankHeight - 3},
                {TextX(block, body) + TextWidth(block, body), y + kBlankHeight - 3}, kRule, 0.6);
    return;
  }
  if (block.kind == Block::Kind::kBullet) canvas.Fill({body.x + 1, y + 3.6, 3, 3}, kInk);
  canvas.Text({TextX(block, body), y}, TextWidth(block, body), block.text, StyleOf(block));
}

class Blocks {
 public:
  explicit Blocks(std::vector<Block>& blocks) : blocks_(blocks) {}
  void Heading(const char* text) { blocks_.push_back({Block::Kind::kHeading, "", text}); }
  void Named(std::string name, std::string text) {
    blocks_.push_back({Block::Kind::kNamed, std::move(name), std::move(text)});
  }
  void Paragraph(std::string text) {
    blocks_.push_back({Block::Kind::kParagraph, "", std::move(text)});
  }
  void Bullet(std::string text) { blocks_.push_back({Block::Kind::kBullet, "", std::move(text)}); }

 private:
  std::vector<Block>& blocks_;
};

// What is not given is left blank.
void AddReport(Blocks& blocks, const Material& material) {
  const ReportFields& f = material.options.fields;
  blocks.Heading("Report");
  blocks.Named("number", material.report_number);
  blocks.Named("issued by", f.laboratory);
  blocks.Named("examined by", f.examiner);
  blocks.Named("examined for", f.client);
  blocks.Named("item", f.item);
  blocks.Named("received on", f.received);
  blocks.Named("examined on", f.examined);
  blocks.Named("issued on", f.issued);
}

void AddPhoto(Blocks& blocks, const Comparison& c) {
  blocks.Heading("Photo");
  blocks.Named("file", c.photo.file);
  blocks.Named("size", fmt::format("{} × {} pixels", c.photo.width, c.photo.height));
  if (c.photo.focal_length_35mm) {
    blocks.Named("focal length",
                 fmt::format("{:.0f} mm for a 35 mm frame", *c.photo.focal_length_35mm));
  }
  blocks.Named("SHA-256", c.photo.sha256);
}

void AddSetAndProgram(Blocks& blocks, const Comparison& c) {
  blocks.Heading("Reference set");
  blocks.Named("set", fmt::format("{}, revision {}", c.refset_id, c.refset_revision));
  blocks.Named("maker", c.refset_maker.empty() ? "not given" : c.refset_maker);
  blocks.Named("period", c.refset_period.empty() ? "not given" : c.refset_period);
  blocks.Named("verified items", ItemsInWords(c));
  if (c.refset_simulated) {
    blocks.Named("simulated", "yes: the maker is invented, the photos of the set are simulated");
  }
  blocks.Heading("Program and options");
  blocks.Named("program", "debossier " + c.program_version);
  for (const auto& [name, value] : c.options) blocks.Named(name, value);
}

void AddResult(Blocks& blocks, const Comparison& c) {
  blocks.Heading("Result in numbers");
  blocks.Named("finding", compare::Name(c.finding));
  blocks.Named("score", Fixed(c.score, 3));
  blocks.Named("features", fmt::format("{}", c.features.size()));
  blocks.Named("stroke gain", fmt::format("{} ± {} (k = 2) cap heights",
                                          Value(c.measured.gain.value, "cap heights"),
                                          Value(2 * c.measured.gain.u, "cap heights")));
  for (const auto& line : c.measured.lines) {
    std::string words = fmt::format("“{}”: {}", line.text, measure::Name(line.line_case));
    if (line.height_ratio.u > 0) {
      words += fmt::format("; height ratio to the wordmark {} ± {} (k = 2)",
                           Value(line.height_ratio.value, "ratio"),
                           Value(2 * line.height_ratio.u, "ratio"));
    }
    blocks.Named("line " + line.id, words);
  }
}

void AddQuality(Blocks& blocks, const Comparison& c) {
  const measure::Quality& q = c.measured.quality;
  blocks.Heading("Quality of the photo");
  blocks.Named("cap height", fmt::format("{} pixels", Fixed(q.cap_height_px, 1)));
  blocks.Named("blur", fmt::format("{} pixels (standard deviation)", Fixed(q.blur_px, 2)));
  blocks.Named("tilt", fmt::format("{}°", Fixed(q.tilt_deg, 1)));
  blocks.Named("turn in the photo", fmt::format("{}°", Fixed(q.turn_deg, 1)));
  blocks.Named("foil coverage", fmt::format("{} %", Fixed(100 * q.coverage, 1)));
  blocks.Named("contrast to noise", Fixed(q.contrast, 1));
  blocks.Named("stretch x against y", fmt::format("{} %", Fixed(100 * q.anisotropy, 2, true)));
  for (const std::string& advice : AllAdvice(c)) blocks.Bullet(advice);
  if (c.measured.warnings.empty()) return;
  blocks.Heading("Warnings");
  for (const Warning& w : c.measured.warnings) {
    blocks.Bullet(w.where.empty() ? w.message : w.where + ": " + w.message);
  }
}

void AddScale(Blocks& blocks, const Comparison& c) {
  if (!c.scale) return;
  blocks.Heading("Scale");
  blocks.Named("scale", ScaleInWords(*c.scale));
  for (const card::ScaleTerm& term : c.scale->terms) {
    blocks.Named("u from " + term.name, fmt::format("{} %", Fixed(100 * term.u, 2)));
  }
  for (const std::string& note : ScaleNotes(*c.scale)) blocks.Bullet(note);
}

void AddMethod(Blocks& blocks, const Comparison& c) {
  blocks.Heading("Method");
  blocks.Paragraph(
      "The reference outlines are laid over the photo. What the die is not responsible for is "
      "taken "
      "out: the camera's view and the stretch of the leather, the growth of strokes under heat and "
      "pressure, and wear. Each letter, the mark and the frame are then fitted by themselves, and "
      "each measured value gets an uncertainty from its own fit. The values are held against those "
      "of the verified items with their natural spread.");
  const double one_in = c.false_flag_rate > 0 ? std::round(1 / c.false_flag_rate) : 0;
  blocks.Heading("Decision rule");
  blocks.Paragraph(fmt::format(
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

// What the examiner adds, apart from what was measured.
void AddOpinion(Blocks& blocks, const Material& material) {
  blocks.Heading("Remarks and opinion of the examiner");
  blocks.Paragraph(
      "All else in this report is the result of measurement by the method above and relates only "
      "to "
      "the photographs examined. What stands here is the examiner's own.");
  if (material.options.fields.remarks.empty()) {
    for (int i = 0; i < 3; ++i) blocks.Named("", "");
  } else {
    blocks.Paragraph(material.options.fields.remarks);
  }
  blocks.Heading("Signature");
  blocks.Named("name", material.options.fields.examiner);
  blocks.Named("place and date", "");
  blocks.Named("signature", "");
  blocks.Paragraph(fmt::format("End of report {}.", material.report_number));
}

void AddCautions(Blocks& blocks) {
  blocks.Heading("Cautions");
  for (const std::string& caution : compare::Cautions()) blocks.Bullet(caution);
}

void DrawThumbnail(Canvas& canvas, const Material& material, double y) {
  const Rect& body = material.body;
  const Rect panel{body.right() - kThumbnailWidth, y, kThumbnailWidth, kThumbnailHeight};
  View view = ViewOfPhoto(material.photo.width(), material.photo.height(), panel);
  view.page_from_photo.offset.y() -= view.FromPhoto({0, -0.5}).y() - panel.y;
  const Tag tag(canvas, "Figure");
  DrawPhoto(canvas, material.photo, view);
  if (material.lettering_box) {
    const Clip clip(canvas, panel);
    view.placement = &material.comparison.measured.placement;
    AddToPath(canvas, view,
              outline::Outline{{outline::Rectangle(Grown(*material.lettering_box, 0.2))}});
    canvas.Stroke({kDepartsColour, 1.2, false, true});
  }
  const double bottom = view.FromPhoto({0, material.photo.height() - 0.5}).y();
  canvas.Text(
      {panel.x, bottom + 3}, panel.width,
      material.lettering_box ? "the whole photo; the box is the lettering" : "the whole photo",
      {.size = 7.5, .colour = kQuietInk, .align = Align::kCentre});
}

// What stands under one page heading.
struct Chapter {
  std::string heading;
  std::vector<Block> blocks;
};

void DrawChapterPage(Canvas& canvas, const Material& material, const std::string& heading,
                     const std::vector<Block>& blocks, bool is_first) {
  double y = DrawHeading(canvas, material.body, heading);
  bool wants_thumbnail = is_first;
  for (const Block& block : blocks) {
    if (wants_thumbnail && block.beside_thumbnail) {
      DrawThumbnail(canvas, material, y + 10);
      wants_thumbnail = false;
    }
    DrawBlock(canvas, block, material.body, y);
    y += BlockHeight(canvas, block, material.body);
  }
}

void PlanChapter(const Material& material, Canvas& canvas, const Chapter& chapter, Pages& pages) {
  const double room = material.body.height - kHeadingRoom;
  std::vector<Block> here;
  double used = 0;
  bool first = true;
  const auto flush = [&] {
    const std::string heading = chapter.heading + (first ? "" : ", continued");
    pages.push_back({first ? chapter.heading : "",
                     [&material, heading, first, blocks = std::move(here)](Canvas& page) {
                       DrawChapterPage(page, material, heading, blocks, first);
                     }});
    here.clear();
    used = 0;
    first = false;
  };
  for (std::size_t i = 0; i < chapter.blocks.size(); ++i) {
    const Block& block = chapter.blocks[i];
    const double height = BlockHeight(canvas, block, material.body);
    double needed = height;
    // A heading moves on with the block that follows it.
    if (block.kind == Block::Kind::kHeading && i + 1 < chapter.blocks.size()) {
      needed += BlockHeight(canvas, chapter.blocks[i + 1], material.body);
    }
    if (used + needed > room && !here.empty()) flush();
    here.push_back(block);
    used += height;
  }
  flush();
}

}  // namespace

void PlanProvenance(const Material& material, Canvas& canvas, Pages& pages) {
  const Comparison& comparison = material.comparison;
  Chapter provenance{"Provenance", {}};
  Blocks facts(provenance.blocks);
  AddReport(facts, material);
  AddPhoto(facts, comparison);
  const std::size_t beside = provenance.blocks.size();
  AddSetAndProgram(facts, comparison);
  for (std::size_t i = beside; i < provenance.blocks.size(); ++i) {
    provenance.blocks[i].beside_thumbnail = true;
  }
  AddResult(facts, comparison);
  AddQuality(facts, comparison);
  AddScale(facts, comparison);
  PlanChapter(material, canvas, provenance, pages);

  Chapter method{"Method and cautions", {}};
  Blocks text(method.blocks);
  AddMethod(text, comparison);
  AddCautions(text);
  AddOpinion(text, material);
  PlanChapter(material, canvas, method, pages);
}

}  // namespace debossier::report
