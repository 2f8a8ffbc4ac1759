#include "compare/compare_photo.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "base/version.h"
#include "measure/features.h"
#include "measure/measure_photo.h"

namespace debossier::compare {

Result<std::monostate> CompareOptions::Check() const {
  const auto refuse = [](const std::string& name, const std::string& range) {
    return Refuse(ErrorCode::kUsage, "compare", name, "is out of range", "give " + range);
  };
  if (!(false_flag_rate >= 0.0001 && false_flag_rate <= 0.2)) {
    return refuse("false flag rate", "0.0001 to 0.2");
  }
  if (!(undecidable_limit > 0 && undecidable_limit <= 10)) {
    return refuse("undecidable limit", "a length in cap heights up to 10");
  }
  return scale.Check();
}

std::string DepartureInWords(const Feature& f, const refset::RefSet& set,
                             const std::optional<card::Scale>& scale) {
  const auto in_mm = [&](double cap_heights) {
    return scale && scale->is_known() && f.unit == "cap heights"
               ? fmt::format(" ({})", card::InMillimetres(cap_heights, *scale))
               : std::string();
  };
  const double difference = f.value - f.expected;
  const std::string items = set.items.empty() ? "in the set's outlines"
                            : set.items.size() == 1
                                ? "on the verified item"
                                : fmt::format("on the {} verified items", set.items.size());
  if (f.measure == "letterform") {
    return fmt::format(
        "The {} differs from the reference by {:.1f} % of cap height{} along its "
        "outline; {:.1f} % is usual {}.",
        f.label, 100 * f.value, in_mm(f.value), 100 * f.expected, items);
  }
  const char* more = difference > 0 ? "larger" : "smaller";
  if (f.measure == "gap" || f.measure == "mark gap") more = difference > 0 ? "wider" : "narrower";
  if (f.measure == "mark rise" || f.measure == "baseline" || f.measure == "line place across") {
    more = difference > 0 ? "higher" : "lower";
  }
  if (f.measure == "line place along") more = difference > 0 ? "further right" : "further left";
  return fmt::format(
      "The {} is {:.1f} % of cap height{} {} than {} ({:.3f} against {:.3f} cap "
      "heights, U = {:.3f}).",
      f.label, 100 * std::abs(difference), in_mm(std::abs(difference)), more, items, f.value,
      f.expected, 2 * f.u);
}

Reason ReasonOf(const Feature& f, const refset::RefSet& set,
                const std::optional<card::Scale>& scale) {
  Reason r;
  r.measure = f.measure;
  r.elements = f.elements;
  r.value = f.value;
  r.u = f.u;
  r.expected = f.expected;
  r.spread = f.spread;
  r.unit = f.unit;
  r.p = f.p;
  r.effect = 100 * (f.value - f.expected);
  r.text = DepartureInWords(f, set, scale);
  return r;
}

namespace {

void EchoOptions(const CompareOptions& options, Comparison& c) {
  c.options = {{"false-flag-rate", fmt::format("{:g}", options.false_flag_rate)},
               {"undecidable-limit", fmt::format("{:g}", options.undecidable_limit)},
               {"free-aspect", options.free_aspect ? "yes" : "no"}};
  const cv::Rect& crop = options.place.crop;
  if (!crop.empty()) {
    c.options.emplace_back("crop",
                           fmt::format("{},{},{},{}", crop.x, crop.y, crop.width, crop.height));
  }
  for (const auto& [name, value] : options.scale.Echo()) c.options.emplace_back(name, value);
}

/// What strays too, one of each measure not named yet: it supports the finding and shows the client
/// where to look, though it would not carry the finding alone.
void AddStraying(const refset::RefSet& set, double level, Comparison& c) {
  std::set<std::string> named;
  for (const auto& r : c.reasons) named.insert(r.measure);
  std::vector<const Feature*> straying;
  for (const auto& f : c.features) {
    if (f.p < level) straying.push_back(&f);
  }
  std::stable_sort(straying.begin(), straying.end(),
                   [](const Feature* a, const Feature* b) { return a->p < b->p; });
  for (const Feature* f : straying) {
    if (named.insert(f->measure).second) c.reasons.push_back(ReasonOf(*f, set, c.scale));
  }
}

double Score(const JointTest& joint, bool category) {
  const double score = std::max(0.0, -std::log10(std::clamp(joint.p, 1e-300, 1.0)));
  return category ? std::max(score, 4.0) : score;
}

void Decide(const refset::RefSet& set, const JointTest& joint, const CategoryOutcome& categories,
            const CompareOptions& options, Comparison& c) {
  std::vector<const Feature*> departing;
  // A line that is set in another case is another line: its letters' numbers say nothing more.
  std::set<std::string> recast;
  for (const auto& r : categories.departures) {
    if (r.measure == "case" || r.measure == "text") {
      for (const auto& id : r.elements) recast.insert(id.substr(0, id.find('.')));
    }
  }
  std::erase_if(c.features, [&](const Feature& f) {
    return !f.elements.empty() && recast.contains(f.elements[0].substr(0, f.elements[0].find('.')));
  });
  // What is stamped can be read in such a photo, its lengths can only roughly.
  const bool alike = c.measured.quality.contrast < measure::kLeastContrast;
  constexpr double kGross = 0.15;  // cap heights
  for (auto& f : c.features) {
    f.departs = f.departs && (!alike || std::abs(f.value - f.expected) > kGross);
    f.decidable = f.decidable && !alike;
    if (f.departs) departing.push_back(&f);
  }
  std::stable_sort(departing.begin(), departing.end(),
                   [](const Feature* a, const Feature* b) { return a->p < b->p; });
  c.reasons = categories.departures;
  for (const Feature* f : departing) c.reasons.push_back(ReasonOf(*f, set, c.scale));
  const bool many = !alike && joint.p < options.false_flag_rate;
  if (c.reasons.empty() && many) {
    Reason r;
    r.measure = "many small departures";
    r.unit = "probability";
    r.p = joint.p;
    r.text =
        "No single measure stands out, but together the measures stray further from the "
        "verified items than one genuine photo in " +
        fmt::format("{:.0f} does.", 1 / options.false_flag_rate);
    c.reasons.push_back(std::move(r));
  }
  // Where no single measure carries the finding, or few items make all tests wide, those that
  // contribute are named more freely.
  // Where a category (case, another letter, the frame) carries it, a number that strays by chance
  // would only be a false accusation beside a true one.
  const bool carried = departing.empty() && !categories.departures.empty();
  const bool freely = departing.empty() || set.items.size() < 3;
  if (!c.reasons.empty() && !carried) AddStraying(set, freely ? 0.05 : 0.01, c);
  c.score = Score(alike && c.reasons.empty() ? JointTest{} : joint, !categories.departures.empty());
  std::size_t found = 0;
  for (const auto& e : c.measured.elements) found += e.found;
  const bool too_little = 10 * found < 6 * c.measured.elements.size();
  int essential = 0;
  int untold = 0;
  for (const auto& f : c.features) {
    if (f.measure != "gap" && f.measure != "mark gap") continue;
    ++essential;
    untold += !f.decidable;
  }
  const bool undecidable = 2 * untold > essential;
  const bool essential_untold =
      std::any_of(categories.untold.begin(), categories.untold.end(),
                  [](const Reason& r) { return r.measure == "mark" || r.measure == "frame"; });
  if (!c.reasons.empty()) {
    c.finding = Finding::kDeparts;
    c.summary = fmt::format("The lettering departs from the verified items of this set: {}",
                            c.reasons.front().text);
  } else if (alike || too_little || undecidable || essential_untold) {
    c.finding = Finding::kCannotTell;
    c.reasons = categories.untold;
    c.summary = alike        ? "Foil and leather look too alike in this photo to measure by."
                : too_little ? "Too much of the lettering cannot be seen in this photo."
                             : "This photo does not show enough to tell.";
  } else {
    c.finding = Finding::kNoDepartureFound;
    c.summary = fmt::format(
        "Nothing that was measured departs from the verified items beyond their natural spread{}.",
        set.items.size() < 3 ? "; with so few verified items only large departures would show"
                             : "");
  }
  c.advice = c.measured.quality.advice;
  for (const auto& r : categories.untold) {
    if (c.finding != Finding::kCannotTell) c.measured.warnings.push_back({"compare", "", r.text});
  }
}

}  // namespace

Result<Comparison> ComparePhoto(const image::Photo& photo, const refset::RefSet& set,
                                const CompareOptions& options) {
  if (auto checked = options.Check(); !checked) return PassOn(checked);
  if (auto checked = options.scale.CheckWithin(photo.bgr.size()); !checked) return PassOn(checked);
  fit::PlaceOptions place = options.place;
  place.free_aspect = options.free_aspect || set.free_aspect;
  auto placed = fit::PlaceLettering(photo.bgr, set.lettering, place);
  if (!placed) {
    Error error = placed.error();
    error.where = photo.file;
    return Unexpected(std::move(error));
  }
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
  EchoOptions(options, c);
  c.reference = set.lettering;
  c.measured = measure::MeasurePhoto(set.lettering, *placed);
  if (options.scale.IsWanted()) {
    c.scale = card::FindScale(
        photo.bgr, photo.header.focal_length_35mm,
        {c.measured.placement, outline::Bounds(set.lettering), card::StampShape::kKnown},
        options.scale);
  }
  const auto values = measure::FeaturesOf(set.lettering, c.measured);
  c.features = TestFeatures(set, values, options);
  const JointTest joint = TestTogether(c.features, values, set.items.size());
  const CategoryOutcome categories = CompareCategories(set, c.measured, *placed);
  Decide(set, joint, categories, options, c);
  return c;
}

}  // namespace debossier::compare
