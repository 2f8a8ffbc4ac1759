// The photos of a dossier in a row each, what they say against each other, the values that they
// give together, and the closing pages.
//
// Holds for a dossier what page_provenance.cpp holds for a photo (ISO/IEC 17025:2017, 7.8).
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <sstream>
#include <utility>

#include "base/version.h"
#include "report/dossier_pages.h"
#include "report/front_page.h"
#include "report/provenance.h"
#include "results/dossier_json.h"
#include "results/words.h"

namespace debossier::report {

namespace {

using compare::Comparison;
using compare::ItemPhoto;
using compare::Together;

constexpr double kRowHeight = 92;
constexpr double kPictureWidth = 110;
constexpr double kPictureHeight = 78;
constexpr double kHeadingRoom = 44;
constexpr const char* kAgainst = "The photos against each other";

void DrawPhotoRow(Canvas& canvas, const DossierMaterial& dossier, std::size_t idx, double y) {
  const ItemPhoto& photo = dossier.item.photos[idx];
  const Material* material = dossier.photos[idx];
  const Rect& body = dossier.body;
  if (material != nullptr) {
    DrawWholePhoto(canvas, *material, {body.x, y, kPictureWidth, kPictureHeight});
  } else {
    canvas.Frame({body.x, y, kPictureWidth, kPictureHeight}, kRule, 0.6);
  }
  const double x = body.x + kPictureWidth + 12, width = body.right() - x;
  const Tag tag(canvas, "P");
  y += canvas.Text({x, y}, width,
                   fmt::format("Photo {}: {}. {}", idx + 1, photo.name, OutcomeInWords(photo)),
                   {.size = 10, .bold = true, .max_lines = 2});
  const auto quiet = [&](const std::string& words, int lines) {
    y += canvas.Text({x, y}, width, words,
                     {.size = 8, .colour = kQuietInk, .max_lines = lines, .shrinks = lines == 1});
  };
  if (photo.comparison) {
    const Comparison& c = *photo.comparison;
    const auto& q = c.measured.quality;
    quiet("SHA-256 " + c.photo.sha256, 1);
    quiet(
        fmt::format("{} × {} pixels, cap height {} px, blur {} px · {}", c.photo.width,
                    c.photo.height, Fixed(q.cap_height_px, 1), Fixed(q.blur_px, 2), SetInWords(c)),
        1);
    y += canvas.Text({x, y + 1}, width, c.summary, {.size = 9, .max_lines = 2}) + 1;
  } else if (photo.refusal) {
    y += canvas.Text({x, y}, width, photo.refusal->hint, {.size = 9, .max_lines = 2});
  }
  if (!photo.notes.empty()) quiet("Note given with it: " + photo.notes, 1);
}

const char* Advice() {
  return "Photos of one stamp contradict each other where glare, dirt or a finger hides a part of "
         "it, and photos of different stamps do. Look at these photos side by side, and take "
         "another one.";
}

std::vector<std::string> Contradictions(const DossierMaterial& dossier) {
  std::vector<std::string> texts;
  for (const Together& t : dossier.item.sets) {
    for (const auto& c : t.contradictions) {
      texts.push_back(dossier.item.sets.size() > 1 ? fmt::format("Set {}: {}", t.refset_id, c.text)
                                                   : c.text);
    }
  }
  return texts;
}

constexpr TextStyle kContradiction{.size = 9.5};
constexpr double kBulletGap = 4;

double ContradictionsHeight(Canvas& canvas, const std::vector<std::string>& texts, double width) {
  if (texts.empty()) return 0;
  double height = kSubheadingHeight + canvas.TextHeight(width, Advice(), kContradiction);
  for (const std::string& text : texts) {
    height += canvas.TextHeight(width - 12, text, kContradiction) + kBulletGap;
  }
  return height;
}

void DrawContradictions(Canvas& canvas, const Rect& body, double y,
                        const std::vector<std::string>& texts) {
  if (texts.empty()) return;
  DrawSubheading(canvas, body, y, kAgainst);
  y += kSubheadingHeight;
  for (const std::string& text : texts) {
    const Tag tag(canvas, "P");
    canvas.Fill({body.x + 1, y + 3.4, 3, 3}, kInk);
    y += canvas.Text({body.x + 12, y}, body.width - 12, text, kContradiction) + kBulletGap;
  }
  const Tag tag(canvas, "P");
  canvas.Text({body.x, y}, body.width, Advice(), kContradiction);
}

/// The photos, and on their last page or by themselves what they say against each other.
void PlanPhotos(const DossierMaterial& dossier, Canvas& canvas, Pages& pages) {
  const Rect& body = dossier.body;
  const std::size_t count = dossier.item.photos.size();
  const auto per_page = static_cast<std::size_t>((body.height - kHeadingRoom) / kRowHeight);
  std::vector<std::string> texts = Contradictions(dossier);
  const std::size_t on_last = (count - 1) % per_page + 1;
  const bool fits = kHeadingRoom + static_cast<double>(on_last) * kRowHeight +
                        ContradictionsHeight(canvas, texts, body.width) <=
                    body.height;
  for (std::size_t first = 0; first < count; first += per_page) {
    const std::size_t end = std::min(count, first + per_page);
    const auto below = fits && end == count ? texts : std::vector<std::string>();
    pages.push_back({first == 0 ? "Photos" : "", [&dossier, first, end, below](Canvas& page) {
                       double y = DrawHeading(page, dossier.body,
                                              first == 0 ? "Photos" : "Photos, continued");
                       for (std::size_t i = first; i < end; ++i) {
                         DrawPhotoRow(page, dossier, i, y);
                         y += kRowHeight;
                       }
                       DrawContradictions(page, dossier.body, y, below);
                     }});
  }
  if (fits) return;
  Chapter chapter(kAgainst);
  for (std::string& text : texts) chapter.Bullet(std::move(text));
  chapter.Paragraph(Advice());
  std::move(chapter).Plan(body, canvas, pages);
}

const char* CombinedNote() {
  return "Each value over all photos that show it: the mean, weighted by the photos' own "
         "uncertainties. U (k = 2) holds what the photos do not know, which shrinks with their "
         "number, and what the set's outlines do not know, which does not; where photos differ by "
         "more than their uncertainties explain, U is wider by that ratio. Would have shown: in "
         "the one photo that shows it best. All else as in the photos' own tables.";
}

/// What the photos of a set give together, as if one had shown it.
Comparison Combined(const DossierMaterial& dossier, const Together& t,
                    const std::vector<const Material*>& of_set) {
  Comparison c = of_set.front()->comparison;
  for (const Material* m : of_set) {
    for (std::size_t i = 0; i < c.measured.elements.size(); ++i) {
      auto& element = c.measured.elements[i];
      const auto& other = m->comparison.measured.elements[i];
      if (!element.found && other.found) element = other;
    }
  }
  c.finding = t.finding;
  c.reasons.clear();
  for (const auto& joint : t.reasons) {
    if (!joint.withdrawn) c.reasons.push_back(joint.reason);
  }
  c.sentences = t.sentences;
  c.features.clear();
  for (const auto& joint : t.features) {
    c.features.push_back(joint.feature);
    if (joint.photos.size() < of_set.size()) {
      c.features.back().label += fmt::format(" ({})", compare::PhotosInWords(joint.photos));
    }
  }
  c.false_flag_rate = dossier.item.false_flag_rate;
  return c;
}

void PlanCombined(DossierMaterial& dossier, Canvas& canvas, Pages& pages) {
  for (const Together& t : dossier.item.sets) {
    std::vector<const Material*> of_set;
    for (const Material* m : dossier.photos) {
      if (m != nullptr && m->comparison.refset_id == t.refset_id) of_set.push_back(m);
    }
    if (of_set.size() < 2) continue;
    dossier.combined.push_back(Combined(dossier, t, of_set));
    PlanTable(dossier.combined.back(), dossier.body,
              {"Values over all photos, set " + t.refset_id, CombinedNote(),
               "No photo shows a value that could be measured."},
              canvas, pages);
  }
}

void AddDecisionRule(const DossierMaterial& dossier, Chapter& chapter) {
  const auto& item = dossier.item;
  chapter.Heading("Decision rule");
  chapter.Paragraph(fmt::format(
      "The item is said to depart where a photo of it does, each photo at {} %: its share of a "
      "false-flag rate of {} % over all {} photos. A departure that other photos should show and "
      "do not is named, and withdrawn where all of them would miss it less often than photos of "
      "genuine items are flagged; if none is left, the item cannot be told. No departure is found "
      "where that holds for a photo with each set, or where photos together show all that the set "
      "asks for. Levels of departures without an amount rest on counts of simulated photos, which "
      "end at about one in a few hundred; they do not become finer with the share.",
      Fixed(100 * item.RateOfPhoto(), 3), Fixed(100 * item.false_flag_rate, 2),
      item.photos.size()));
}

}  // namespace

void PlanDossier(DossierMaterial& dossier, Canvas& canvas, Pages& pages) {
  PlanFront(dossier, canvas, pages);
  PlanPhotos(dossier, canvas, pages);
  PlanCombined(dossier, canvas, pages);
}

void PlanDossierEnd(const DossierMaterial& dossier, Canvas& canvas, Pages& pages) {
  Chapter chapter("The dossier");
  AddReport(chapter, dossier.fields, dossier.number);
  chapter.Named("program", std::string("debossier ") + kVersion);
  chapter.Heading("Other observations of the examiner");
  chapter.Paragraph(
      "Hardware, lining, stitching, papers: what the examiner saw besides the lettering, in the "
      "examiner's own words. This program does not judge it, and no finding rests on it.");
  if (dossier.observations.empty()) {
    for (int i = 0; i < 6; ++i) chapter.Named("", "");
  }
  std::istringstream lines(dossier.observations);
  for (std::string line; std::getline(lines, line);) {
    if (!line.empty()) chapter.Paragraph(line);
  }
  std::move(chapter).Plan(dossier.body, canvas, pages);

  Chapter method("Method and cautions");
  AddMethod(method);
  AddDecisionRule(dossier, method);
  AddCautions(method);
  AddOpinion(method, dossier.fields, dossier.number);
  std::move(method).Plan(dossier.body, canvas, pages);
}

}  // namespace debossier::report
