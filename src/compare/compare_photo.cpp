#include "compare/compare_photo.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "base/version.h"
#include "compare/category_rates.h"
#include "compare/hypotheses.h"
#include "compare/statistics.h"
#include "compare/tell.h"
#include "measure/features.h"
#include "measure/grain.h"
#include "measure/measure_photo.h"

namespace debossier::compare {

Result<std::monostate> CompareOptions::Check() const {
  if (!(false_flag_rate >= 0.0001 && false_flag_rate <= 0.2)) {
    return Refuse(ErrorCode::kUsage, "compare", "false flag rate", "is out of range",
                  "give 0.0001 to 0.2");
  }
  return scale.Check();
}

namespace {

void EchoOptions(const CompareOptions& options, const refset::RefSet& set, Comparison& c) {
  c.options = {{"false-flag-rate", fmt::format("{:g}", options.false_flag_rate)},
               {"asked-of-places", fmt::format("{:g}", set.asks.place)},
               {"asked-of-sizes", fmt::format("{:g}", set.asks.size)},
               {"free-aspect", options.free_aspect ? "yes" : "no"}};
  const cv::Rect& crop = options.place.crop;
  if (!crop.empty()) {
    c.options.emplace_back("crop",
                           fmt::format("{},{},{},{}", crop.x, crop.y, crop.width, crop.height));
  }
  for (const auto& [name, value] : options.scale.Echo()) c.options.emplace_back(name, value);
}

/// Lines that are set in another case, or are another text: their elements' numbers say nothing.
std::set<std::string> RecastLines(const CategoryOutcome& categories) {
  std::set<std::string> lines;
  for (const auto& r : categories.departures) {
    if (r.measure != "case" && r.measure != "text") continue;
    for (const auto& id : r.elements) lines.insert(id.substr(0, id.find('.')));
  }
  return lines;
}

/// Letters in whose place something else stands.
std::set<std::string> OtherLetters(const CategoryOutcome& categories) {
  std::set<std::string> ids;
  for (const auto& r : categories.departures) {
    if (r.measure == "letterform") ids.insert(r.elements.begin(), r.elements.end());
  }
  return ids;
}

/// Sentences on what can be compared: elements that were found, on lines that are the set's.
Hypotheses TestPoses(const SetModel& model, const std::set<std::string>& recast,
                     const CompareOptions& options, const Comparison& c) {
  PhotoPoses poses;
  const auto& quality = c.measured.quality;
  poses.blur = quality.cap_height_px > 0 ? quality.blur_px / quality.cap_height_px : 0;
  for (const auto& e : c.measured.elements) {
    const bool compared = e.found && !recast.contains(LineOf(e.id));
    poses.elements.push_back(compared ? std::optional(e.pose) : std::nullopt);
    poses.missing.push_back(e.shape.missing);
  }
  return TestHypotheses(model, poses, options.false_flag_rate);
}

/// What is stamped can be read in a photo of little contrast, its lengths only roughly: no limit is
/// a good one, and only what is grossly off is said.
void KeepGross(Hypotheses& hypotheses) {
  constexpr double kGross = 0.15;  // cap heights, or of a size
  for (Hypothesis& h : hypotheses.all) {
    h.limit = std::max(h.limit, kGross);
    if (std::abs(h.amplitude) >= kGross) continue;
    h.rank = 0;
    h.z = std::clamp(h.z, -0.99 * h.level, 0.99 * h.level);
  }
}

/// Where many sentences are said of one line, the line is another: said first, the sentences after.
void SayIfThroughout(const refset::RefSet& set, std::vector<Reason>& said) {
  constexpr int kMany = 4;
  for (const auto& line : set.lettering.lines) {
    std::vector<std::string> elements;
    int sentences = 0;
    for (const Reason& r : said) {
      if (r.elements.empty() || LineOf(r.elements.front()) != line.id) continue;
      ++sentences;
      for (const auto& id : r.elements) {
        if (id != line.id) elements.push_back(id);
      }
    }
    if (sentences < kMany) continue;
    Reason r;
    r.measure = "letterform";
    r.elements = std::move(elements);
    r.unit = "category";
    r.text = fmt::format(
        "\"{}\" differs throughout: {} departures are seen in it, as of another face or another "
        "setting.",
        line.text, sentences);
    said.insert(said.begin(), std::move(r));
  }
}

/// The frame's numbers: few, each by itself, by a predictive t on the items and what is usual.
void AddFrameDepartures(const refset::RefSet& set, double rate, Comparison& c) {
  constexpr double kUsualDf = 4;
  constexpr double kShare = 0.05;
  constexpr double kNumbers = 3;
  const double df = kUsualDf + std::max(0.0, static_cast<double>(set.items.size()) - 1);
  for (Feature& f : c.features) {
    if (!f.measure.starts_with("frame")) continue;
    const double p = StudentTwoSidedP(f.z, df);
    if (p >= rate * kShare / kNumbers) continue;
    f.departs = true;
    Reason r;
    r.measure = f.measure;
    r.elements = f.elements;
    r.value = f.value - f.expected;
    r.u = f.u;
    r.unit = f.unit;
    r.z = f.z;
    r.p = p;
    r.effect = 100 * r.value;
    r.text = fmt::format("The {} is {:.1f} % of cap height {} than on the verified items.", f.label,
                         std::abs(r.effect), r.value > 0 ? "larger" : "smaller");
    c.reasons.push_back(std::move(r));
  }
}

/// A value departs where a sentence that is said, or a reason, is about its measure and elements.
void MarkDeparting(Comparison& c) {
  for (Feature& f : c.features) {
    for (const Reason& r : c.reasons) {
      const bool same_measure =
          r.measure == f.measure || (r.measure == "letter size" &&
                                     (f.measure == "letter height" || f.measure == "letter width"));
      f.departs = f.departs || (same_measure && r.elements == f.elements);
    }
  }
}

/// Above 1 where something departs; the strongest there is, over its level.
double ScoreOf(const Hypotheses& hypotheses, const FormOutcome& forms, const Comparison& c) {
  constexpr double kCategory = 2;
  double score = forms.strength;
  for (const Hypothesis& h : hypotheses.all) score = std::max(score, h.Strength());
  for (const Reason& r : c.reasons) {
    if (r.unit == "category" && r.measure != "letterform") score = std::max(score, kCategory);
  }
  return c.reasons.empty() ? std::min(score, 1.0) : std::max(score, 1.001);
}

/// Why the photo cannot tell what the set asks for; empty where it can.
std::string WhyItCannotTell(const refset::Asks& asks, const CategoryOutcome& categories,
                            Comparison& c) {
  if (c.measured.quality.contrast < measure::kLeastContrast) {
    return "Foil and leather look too alike in this photo to measure by.";
  }
  std::size_t found = 0;
  for (const auto& e : c.measured.elements) found += e.found;
  if (IsTooLittle(found, c.measured.elements.size())) {
    return "Too much of the lettering cannot be seen in this photo.";
  }
  std::size_t asked = 0;
  std::size_t untold = 0;
  double worst = 0;
  for (const TriedSentence& s : c.sentences) {
    if (s.measure != "gap" && s.measure != "mark gap") continue;
    ++asked;
    untold += !s.decidable;
    worst = std::max(worst, s.limit);
  }
  if (AreTooMany(untold, asked)) {
    Reason r;
    r.measure = "gap";
    r.unit = "category";
    r.text = fmt::format(
        "The places of letters can be measured to {:.1f} % of cap height in this photo; the set "
        "asks "
        "for more.",
        100 * worst);
    c.reasons.push_back(std::move(r));
    return "The photo is too small, blurred or worn to show what the set asks for.";
  }
  const auto essential = [&](const std::string& measure) {
    return std::count(asks.essential.begin(), asks.essential.end(), measure) > 0;
  };
  for (const Reason& r : categories.untold) {
    if (essential(r.measure)) return r.text;
  }
  for (const CategoryTrial& t : c.categories) {
    const bool frame = t.category == Category::kFrameAbsent || t.category == Category::kFrameAdded;
    if (frame && !t.would_show && essential("frame")) {
      return "Whether there is a frame cannot be seen on a photo of this size and sharpness.";
    }
  }
  return {};
}

void Decide(const refset::Asks& asks, const Hypotheses& hypotheses, const FormOutcome& forms,
            const CategoryOutcome& categories, Comparison& c) {
  MarkDeparting(c);
  c.score = ScoreOf(hypotheses, forms, c);
  if (!c.reasons.empty()) {
    c.finding = Finding::kDeparts;
    c.summary = fmt::format("The lettering departs from the verified items of this set: {}",
                            c.reasons.front().text);
    return;
  }
  const std::string why = WhyItCannotTell(asks, categories, c);
  if (why.empty()) {
    c.finding = Finding::kNoDepartureFound;
    c.summary = "Nothing that this photo shows departs from the verified items of this set.";
    for (const Reason& r : categories.untold) c.summary += " " + r.text;
    return;
  }
  c.finding = Finding::kCannotTell;
  c.summary = why;
  c.reasons.insert(c.reasons.end(), categories.untold.begin(), categories.untold.end());
  c.advice.emplace_back(
      "Photograph the stamp again: straight from above, filling the picture, in soft light from "
      "the side, with the foil lit evenly.");
}

/// A letter that a sentence is said of fits no worse than the sentence tells: its form is not told
/// again.
void DropFormsOfSaid(const std::vector<Reason>& said, FormOutcome& forms) {
  std::erase_if(forms.departures, [&](const Reason& form) {
    return form.elements.size() == 1 && std::any_of(said.begin(), said.end(), [&](const Reason& r) {
             return r.elements == form.elements;
           });
  });
}

/// Where else the lettering stands, each with the crop that compares it.
void AdviseOfOtherStamps(const image::Photo& photo, const fit::PlaceReport& placed,
                         const outline::Lettering& lettering, Comparison& c) {
  constexpr double kMargin = 1;  // cap heights
  for (const fit::Placement& other : placed.others) {
    const cv::Rect crop =
        fit::PlacedRect(other, lettering, kMargin) & cv::Rect(0, 0, photo.bgr.cols, photo.bgr.rows);
    c.advice.push_back(
        fmt::format("The photo shows this lettering a second time: compare that one "
                    "too, by the crop {},{},{},{}.",
                    crop.x, crop.y, crop.width, crop.height));
  }
}

/// The set's own item that this photo shows.
std::string OwnItem(const refset::RefSet& set, const image::Photo& photo,
                    const fit::PlaceReport& placed) {
  const bool has_grain = std::any_of(set.items.begin(), set.items.end(),
                                     [](const refset::Item& i) { return !i.grain.empty(); });
  const std::string grain = has_grain ? measure::GrainOf(set.lettering, placed) : "";
  for (const refset::Item& item : set.items) {
    if (item.photo_sha256 == photo.sha256) return item.id;
    if (measure::CompareGrain(item.grain, grain).IsSame()) return item.id;
  }
  return "";
}

/// What is said of places, sizes and forms, among the categories in `reasons`.
void AddInOrder(const std::vector<Reason>& said, const FormOutcome& forms,
                std::vector<Reason>& reasons) {
  const bool other_lines = !forms.lines.empty();
  if (other_lines) {
    reasons.insert(reasons.end(), forms.departures.begin(), forms.departures.end());
  }
  // A letter that is only another form of what was expected comes after what moved whole lines.
  const auto letters = std::stable_partition(reasons.begin(), reasons.end(), [&](const Reason& r) {
    return r.measure != "letterform" || (other_lines && r.elements.size() > 1);
  });
  reasons.insert(letters, said.begin(), said.end());
  if (!other_lines) {
    reasons.insert(reasons.end(), forms.departures.begin(), forms.departures.end());
  }
}

/// What was asked, before anything is measured.
Comparison Begun(const image::Photo& photo, const refset::RefSet& set,
                 const CompareOptions& options) {
  Comparison c;
  c.photo = {photo.file, photo.sha256, photo.bgr.cols, photo.bgr.rows,
             photo.header.focal_length_35mm};
  c.refset_id = set.id;
  c.refset_revision = set.revision;
  c.refset_maker = set.labels.maker;
  c.refset_period = set.labels.period;
  c.refset_items = static_cast<int>(set.items.size());
  c.refset_simulated = set.simulated;
  c.program_version = kVersion;
  c.false_flag_rate = options.false_flag_rate;
  EchoOptions(options, set, c);
  c.reference = set.lettering;
  return c;
}

Comparison CompareAt(const fit::PlaceReport& placed, const image::Photo& photo,
                     const refset::RefSet& set, const CompareOptions& options) {
  Comparison c = Begun(photo, set, options);
  c.measured = measure::MeasurePhoto(set.lettering, placed);
  AdviseOfOtherStamps(photo, placed, set.lettering, c);
  if (options.scale.IsWanted()) {
    c.scale = card::FindScale(
        photo.bgr, photo.header.focal_length_35mm,
        {c.measured.placement, outline::Bounds(set.lettering), card::StampShape::kKnown},
        options.scale);
  }
  CategoryOutcome categories = CompareCategories(set, c.measured, placed);
  std::set<std::string> recast = RecastLines(categories);
  c.features = BesideSet(set, measure::FeaturesOf(set.lettering, c.measured));
  std::erase_if(c.features, [&](const Feature& f) {
    return !f.elements.empty() && recast.contains(LineOf(f.elements[0]));
  });
  c.reasons = categories.departures;
  const SetModel model = LearnSet(set);
  Hypotheses hypotheses = TestPoses(model, recast, options, c);
  FormOutcome forms = CompareForms(set, c.measured, hypotheses.misfits, OtherLetters(categories));
  if (!forms.lines.empty()) {
    // Told in one sentence for the line.
    std::erase_if(c.reasons, [&](const Reason& r) {
      return r.measure == "letterform" && forms.lines.contains(LineOf(r.elements.front()));
    });
    recast.insert(forms.lines.begin(), forms.lines.end());
    hypotheses = TestPoses(model, recast, options, c);
  }
  if (c.measured.quality.contrast < measure::kLeastContrast) KeepGross(hypotheses);
  c.sentences = Tell(hypotheses, set, c.scale);
  auto said = DeparturesOf(hypotheses, set, c.scale);
  DropFormsOfSaid(said, forms);
  SayIfThroughout(set, said);
  AddInOrder(said, forms, c.reasons);
  AddFrameDepartures(set, options.false_flag_rate, c);
  c.categories = JudgeCategories(set.lettering, c.measured, options.false_flag_rate, c.reasons,
                                 categories.untold);
  Decide(set.asks, hypotheses, forms, categories, c);
  c.own_item = OwnItem(set, photo, placed);
  if (!c.own_item.empty()) {
    c.summary = fmt::format(
        "This photo shows {}, one of the set's own items: the set cannot speak against what it was "
        "made from. {}",
        c.own_item, c.summary);
  }
  return c;
}

}  // namespace

Result<Comparison> ComparePhoto(const image::Photo& photo, const refset::RefSet& set,
                                const CompareOptions& options) {
  if (auto checked = options.Check(); !checked) return PassOn(checked);
  if (auto checked = options.scale.CheckWithin(photo.bgr.size()); !checked) return PassOn(checked);
  fit::PlaceOptions place = options.place;
  place.free_aspect = options.free_aspect || set.free_aspect;
  const auto placed = fit::PlaceLettering(photo.bgr, set.lettering, place);
  if (!placed) {
    Error error = placed.error();
    error.where = photo.file;
    return Unexpected(std::move(error));
  }
  Comparison c = CompareAt(*placed, photo, set, options);
  if (c.finding != Finding::kDeparts) return c;
  // A departure is not said before the next best place was looked at too.
  const auto better = fit::BetterPlace(photo.bgr, set.lettering, place, *placed);
  return better ? CompareAt(*better, photo, set, options) : c;
}

}  // namespace debossier::compare
