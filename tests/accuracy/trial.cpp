#include "accuracy/trial.h"

#include <fmt/format.h>

#include <Eigen/LU>
#include <algorithm>
#include <chrono>
#include <cmath>
#include <map>
#include <optional>

#include "accuracy/degrade.h"
#include "accuracy/truth.h"
#include "compare/compare_photo.h"
#include "image/photo.h"
#include "refset/create.h"
#include "simulate/departures.h"
#include "trace/consensus.h"

namespace debossier::accuracy {

namespace {

/// Leather kept out of everything that is tuned.
constexpr simulate::Leather kUnseenLeather = simulate::Leather::kCrossGrain;

// The texts of the dies are ASCII.
bool IsCapital(const std::string& c) { return c.size() == 1 && c[0] >= 'A' && c[0] <= 'Z'; }
bool IsSmall(const std::string& c) { return c.size() == 1 && c[0] >= 'a' && c[0] <= 'z'; }

struct Shot {
  image::Photo photo;
  simulate::Truth truth;
};

/// Nuisances are set on the amounts of the photo, departures on the die.
void ApplyNuisance(const std::string& name, simulate::Random& random, simulate::Amounts& amounts) {
  if (name == "heavy dwell") amounts.dwell_mm = 0.06;
  if (name == "light dwell") amounts.dwell_mm = -0.06;
  if (name == "stretched 2 %") {
    const double turn = random.Uniform(0, 6.283);
    amounts.stretch_x = 0.02 * std::cos(turn);
    amounts.stretch_y = 0.02 * std::sin(turn);
  }
  if (name == "30 % worn") amounts.wear = 0.3;
}

Result<Shot> Photograph(const DiePlan& plan, const TrialOptions& options, const Taking& taking,
                        const Change& change, std::uint64_t seed) {
  simulate::Random random(seed);
  std::vector<simulate::Departure> departures;
  if (change.is_departure) {
    simulate::Departure d{change.name, "", change.amount};
    const int letters = static_cast<int>(outline::Characters(plan.wordmark).size());
    if (d.name == "pair-gap" || d.name == "letter-size" || d.name == "letter-face") {
      d.element = fmt::format("wordmark.{}", random.Below(letters - 1));
    }
    departures.push_back(d);
  }
  const auto die = MakeDie(plan, departures);
  if (!die) return PassOn(die);
  simulate::Choices choices;
  const std::vector<simulate::Finish> foils = {
      simulate::Finish::kGold,  simulate::Finish::kRose,  simulate::Finish::kSilver,
      simulate::Finish::kWhite, simulate::Finish::kBlack, simulate::Finish::kColour};
  choices.finish =
      options.blind ? simulate::Finish::kBlind : foils[static_cast<std::size_t>(random.Below(6))];
  choices.leather = plan.unseen && random.Below(2) == 0 ? kUnseenLeather
                    : random.Below(2) == 0              ? simulate::Leather::kPebbled
                                                        : simulate::Leather::kSmooth;
  auto drawn = simulate::DrawOptions(taking.level, seed, choices);
  if (!drawn) return PassOn(drawn);
  drawn->departures = departures;
  drawn->amounts.cap_height_px = random.Uniform(taking.least_cap_px, taking.most_cap_px);
  ApplyNuisance(change.name, random, drawn->amounts);
  const auto simulated = simulate::Simulate(*die, *drawn);
  if (!simulated) return PassOn(simulated);
  if (!options.keep.empty()) {
    const auto name = fmt::format("{}-{}-{:x}", plan.wordmark, change.name, seed);
    if (const auto kept = simulate::WriteSimulated(*simulated, options.keep, name); !kept) {
      return PassOn(kept);
    }
  }
  auto bytes = simulate::EncodeSimulated(*simulated);
  if (!bytes) return PassOn(bytes);
  auto photo = image::PhotoFromBytes(std::move(*bytes), fmt::format("{:x}.jpg", seed));
  if (!photo) return PassOn(photo);
  return Shot{std::move(*photo), simulated->truth};
}

reading::TextSpec TextOf(const DiePlan& plan) {
  reading::TextSpec text;
  text.lines = {{"wordmark", plan.wordmark}, {"origin", plan.origin}};
  text.mark = plan.mark;
  text.frame = plan.frame;
  text.frame_line_idx = plan.frame == outline::FrameKind::kNone ? -1 : 1;
  return text;
}

outline::Point MiddleOf(const std::array<outline::Point, 4>& quad) {
  return 0.25 * (quad[0] + quad[1] + quad[2] + quad[3]);
}

/// Places and cases against the truth; elements are matched by id, so only where the text is the
/// set's.
void JudgePlaces(const compare::Comparison& c, const simulate::Truth& truth, PhotoRow& row) {
  std::map<std::string, const simulate::ElementTruth*> true_elements;
  for (const auto& e : truth.elements) true_elements[e.id] = &e;
  row.place_error = 0;
  using outline::Point;
  constexpr double kOff = 0.05;   // cap heights
  constexpr double kSure = 0.01;  // stated standard uncertainty
  // A degraded copy may be smaller than the photo that the truth is about.
  const double factor = static_cast<double>(c.photo.width) / truth.width;
  for (const auto& e : c.measured.elements) {
    const auto found = true_elements.find(e.id);
    if (found == true_elements.end()) continue;
    if (!e.found && !e.in_place) {
      ++row.unplaced;
      continue;
    }
    const Point middle = MiddleOf(found->second->quad_px);
    const Point in_photo = factor * (middle + Point(0.5, 0.5)) - Point(0.5, 0.5);
    const double off = (MiddleOf(e.quad_px) - in_photo).norm() / (factor * row.cap_px);
    row.place_error = std::max(row.place_error, off);
    row.falsely_sure += e.found && off > kOff && e.u_centre.maxCoeff() < kSure;
    if (e.is_mark || !e.found) continue;
    const auto& character = found->second->character;
    const bool capital = IsCapital(character);
    const bool small = IsSmall(character);
    if (!capital && !small) continue;
    switch (e.letter_case) {
      case measure::LetterCase::kCapital:
        ++(capital ? row.cases_right : row.cases_wrong);
        break;
      case measure::LetterCase::kSmall:
        ++(small ? row.cases_right : row.cases_wrong);
        break;
      case measure::LetterCase::kNone:
      case measure::LetterCase::kCannotTell:
        ++row.cases_untold;
        break;
    }
  }
}

void JudgeLines(const compare::Comparison& c, const simulate::Truth& truth, PhotoRow& row) {
  for (const auto& line : c.measured.lines) {
    for (const auto& t : truth.lines) {
      if (t.id != line.id) continue;
      const auto truth_case = outline::CaseOfText(t.text);
      const bool right = line.line_case == truth_case;
      row.line_cases_right &= right;
      if (truth_case == outline::CaseOfText(line.text)) continue;
      // Initials and small letters are said of small words between as well.
      const bool near =
          line.line_case == outline::LineCase::kTitle && truth_case == outline::LineCase::kMixed;
      row.case_named = right || near                                      ? CaseNamed::kRight
                       : line.line_case == outline::LineCase::kCannotTell ? CaseNamed::kUntold
                                                                          : CaseNamed::kWrong;
    }
  }
}

/// The numbers of a photo; held against the truth where it shows the set's own die.
void AddMeasures(const compare::Comparison& c, const outline::Lettering& die, double gain,
                 std::size_t photo, bool same_die, TrialResult& result) {
  for (const auto& f : c.features) {
    const auto pressed = TrueValue(die, f.measure, f.elements, gain);
    const auto bare = TrueValue(die, f.measure, f.elements, 0);
    MeasureRow row;
    row.photo = photo;
    row.measure = f.measure;
    row.what = f.label;
    row.has_truth = same_die && pressed && bare;
    if (row.has_truth) {
      row.error = f.value - *pressed;
      row.bare_error = f.value - *bare;
    }
    row.u = f.u;
    row.z = f.z;
    result.measures.push_back(row);
  }
}

/// Whether the first reason is about what was changed: its measure, and the element where one was
/// named. A line that is spaced wider and another that is smaller can look the same.
bool ReasonIsTrue(const compare::Reason& reason, const std::string& change,
                  const std::vector<simulate::Departure>& departures) {
  static const std::map<std::string, std::vector<std::string>> measures = {
      {"mark-gap", {"mark gap"}},
      {"pair-gap", {"gap"}},
      {"tracking", {"tracking"}},
      {"letter-size", {"letter size"}},
      {"mark-size", {"mark size"}},
      {"mark-other", {"letterform", "mark size"}},
      {"mark-none", {"mark"}},
      {"line-size", {"line height"}},
      {"face", {"letterform"}},
      {"letter-face", {"letterform", "letter size"}},
      {"origin-title", {"case", "text", "letterform"}},
      {"origin-small", {"case", "text", "letterform"}},
      {"origin-mixed", {"case", "text", "letterform"}},
      {"origin-capitals", {"case", "text", "letterform"}},
      {"wordmark-title", {"case", "text", "letterform"}},
      {"text", {"text", "letterform", "case"}},
      {"frame-ellipse", {"frame"}},
      {"frame-none", {"frame"}}};
  const auto known = measures.find(change);
  if (known == measures.end()) return false;
  const auto& names = known->second;
  if (std::find(names.begin(), names.end(), reason.measure) == names.end()) return false;
  const std::string element = departures.empty() ? "" : departures.front().element;
  const bool single = change == "pair-gap" || change == "letter-size" || change == "letter-face";
  return !single || std::find(reason.elements.begin(), reason.elements.end(), element) !=
                        reason.elements.end();
}

void AddSentences(const compare::Comparison& c, std::size_t photo, TrialResult& result) {
  for (const auto& s : c.sentences) {
    const bool later = !s.elements.empty() && s.elements[0].starts_with("origin");
    result.sentences.push_back(
        {photo, s.key, s.measure, !later, s.amplitude, s.u, s.z, s.level, s.limit, s.p});
  }
}

/// The category that a change of the die is about, with the lines it concerns ("": all); nothing
/// for changes with an amount.
struct AboutCategory {
  compare::Category category;
  std::string subject;
};
std::optional<AboutCategory> CategoryOf(const std::string& change) {
  using compare::Category;
  static const std::map<std::string, AboutCategory> known = {
      {"letter-face", {Category::kLetterForm, "wordmark"}},
      {"face", {Category::kLineForm, ""}},
      {"text", {Category::kLineForm, "origin"}},
      {"origin-title", {Category::kCase, "origin"}},
      {"origin-small", {Category::kCase, "origin"}},
      {"origin-mixed", {Category::kCase, "origin"}},
      {"origin-capitals", {Category::kCase, "origin"}},
      {"wordmark-title", {Category::kCase, "wordmark"}},
      {"mark-other", {Category::kMarkForm, "mark"}},
      {"mark-none", {Category::kMarkAbsent, "mark"}},
      {"frame-none", {Category::kFrameAbsent, "frame"}},
      {"frame-ellipse", {Category::kFrameAdded, "frame"}}};
  const auto found = known.find(change);
  return found == known.end() ? std::nullopt : std::optional(found->second);
}

/// Genuine photos try every category, photos of a changed die the one that it is about.
void AddCategories(const compare::Comparison& c, std::size_t photo, const std::string& change,
                   TrialResult& result) {
  const auto about = CategoryOf(change);
  const bool flagged =
      c.finding == compare::Finding::kDeparts ||
      std::any_of(c.categories.begin(), c.categories.end(), [](const auto& t) { return t.seen; });
  for (const auto& trial : c.categories) {
    const bool departs = about && trial.category == about->category &&
                         (about->subject.empty() || about->subject == trial.subject);
    const bool genuine = change == "genuine" || change.starts_with(kCopy);
    if (departs || genuine) result.categories.push_back({photo, trial, departs, flagged});
  }
}

/// The measured gap of a mark that was moved, less the changed die's.
std::optional<double> MarkGapError(const compare::Comparison& c, const Shot& shot, int die_idx,
                                   double gain) {
  std::vector<simulate::Departure> departures = shot.truth.departures;
  auto die = MakeDie(DiePlans()[static_cast<std::size_t>(die_idx)], departures);
  if (!die) return std::nullopt;
  trace::Normalise(*die);
  for (const auto& f : c.features) {
    if (f.measure != "mark gap") continue;
    const auto truth = TrueValue(*die, f.measure, f.elements, gain);
    if (truth) return f.value - *truth;
  }
  return std::nullopt;
}

void CompareOne(const Shot& shot, const refset::RefSet& set, int set_size, const Change& change,
                int die_idx, double gain, const outline::Lettering& die, TrialResult& result) {
  PhotoRow row;
  row.die = die_idx;
  row.set_size = set_size;
  row.change = change.name;
  row.amount = change.amount;
  row.seed = shot.truth.seed;
  row.leather = simulate::NameOf(shot.truth.leather);
  row.finish = simulate::NameOf(shot.truth.finish);
  row.cap_px = shot.truth.amounts.cap_height_px;
  const auto c = compare::ComparePhoto(shot.photo, set);
  if (!c) {
    row.refusal = c.error().message;
    result.photos.push_back(row);
    return;
  }
  row.compared = true;
  row.finding = compare::Name(c->finding);
  row.score = c->score;
  row.mark_found = c->measured.mark.found;
  if (change.name == "mark-gap") row.mark_gap_error = MarkGapError(*c, shot, die_idx, gain);
  if (!c->reasons.empty()) {
    row.reason = c->reasons.front().measure;
    row.reason_is_true = ReasonIsTrue(c->reasons.front(), change.name, shot.truth.departures);
  }
  JudgePlaces(*c, shot.truth, row);
  JudgeLines(*c, shot.truth, row);
  AddMeasures(*c, die, gain, result.photos.size(), change.name == "genuine", result);
  AddSentences(*c, result.photos.size(), result);
  AddCategories(*c, result.photos.size(), change.name, result);
  result.photos.push_back(row);
}

}  // namespace

const std::vector<Change>& Changes() {
  static const std::vector<Change> changes = {
      {"mark-gap", 0.60, true, 0.99},
      {"mark-gap", 0.15, true, 0.99},
      {"mark-gap", 0.06, true, 0.99},
      {"mark-gap", 0.03, true, 0.98},
      {"mark-gap", 0.015, true, 0.75},
      {"pair-gap", 0.03, true, 0.99},
      {"pair-gap", 0.015, true, 0.90},
      {"tracking", 0.01, true, 0.99},
      {"tracking", 0.005, true, 0.90},
      {"letter-size", 0.04, true, 0.95},
      {"letter-size", -0.04, true, 0.95},
      {"letter-size", 0.02, true, 0.60},
      {"letter-size", -0.02, true, 0.60},
      {"mark-size", 0.10, true, 0.90},
      {"mark-other", 0, true, 0},
      {"mark-none", 0, true, 0},
      {"line-size", 0.03, true, 1.0},
      {"line-size", 0.015, true, 0.99},
      {"face", 0, true, 1.0},
      {"letter-face", 0, true, 0.90},
      {"origin-title", 0, true, 1.0},
      {"origin-small", 0, true, 1.0},
      {"wordmark-title", 0, true, 1.0},
      {"text", 0, true, 1.0},
      {"frame-ellipse", 0.35, true, 1.0},
      {"frame-none", 0, true, 1.0},
      {"heavy dwell", 0, false, 0},
      {"light dwell", 0, false, 0},
      {"stretched 2 %", 0, false, 0},
      {"30 % worn", 0, false, 0},
      {"origin-mixed", 0, true, 1.0},
      {"origin-capitals", 0, true, 1.0},
      {"mark-gap", 1.20, true, 0.99},
  };
  return changes;
}

Result<TrialResult> RunDie(int die_idx, const TrialOptions& options) {
  DiePlan plan = DiePlans()[static_cast<std::size_t>(die_idx)];
  const std::string origin = outline::InCase(plan.origin, options.origin_case);
  plan.origin = origin.c_str();
  TrialResult result;
  std::vector<simulate::Departure> none;
  auto die = MakeDie(plan, none);
  if (!die) return PassOn(die);
  // Truth in the unit that sets have: a font's own cap height may differ from its letters' median.
  trace::Normalise(*die);
  // Far apart for each die and purpose, and the same whatever else is asked for.
  const auto seed = [&](std::uint64_t purpose, std::uint64_t k) {
    std::uint64_t state =
        options.seed * 1000003 + static_cast<std::uint64_t>(die_idx) * 7919 + purpose * 104729 + k;
    return simulate::SplitMix64(state);
  };
  const Change genuine{"genuine", 0, false, 0};
  const int most = *std::max_element(options.set_sizes.begin(), options.set_sizes.end());
  std::vector<image::Photo> verified;
  for (int k = 0; k < most; ++k) {
    auto shot = Photograph(plan, options, options.behind_sets, genuine,
                           seed(1, static_cast<std::uint64_t>(k)));
    if (!shot) return PassOn(shot);
    const bool degraded = options.verified == VerifiedPhotos::kDegraded ||
                          (options.verified == VerifiedPhotos::kMixed && k % 2 == 1);
    if (degraded) {
      const Degradation& d = Degradations()[static_cast<std::size_t>(k) % Degradations().size()];
      auto copy = Degrade(shot->photo, shot->truth.amounts.cap_height_px, d, shot->truth.seed);
      if (!copy) return PassOn(copy);
      shot->photo = std::move(*copy);
    }
    verified.push_back(std::move(shot->photo));
  }
  struct Built {
    refset::RefSet set;
    int size = 0;
    double gain = 0;
  };
  std::vector<Built> sets;
  for (const int size : options.set_sizes) {
    SetRow row{die_idx, size, false, "", 0, 0};
    refset::CreateOptions create;
    create.id = "trial";
    create.simulated = true;
    const std::vector<image::Photo> photos(verified.begin(), verified.begin() + size);
    auto made = refset::CreateFromPhotos(photos, TextOf(plan), create);
    if (made) {
      row.built = true;
      const OutlineAgreement agreement = CompareOutlines(made->set.lettering, *die);
      row.outline_rms = agreement.rms;
      row.worst_letter = agreement.worst_letter;
      sets.push_back({std::move(made->set), size, agreement.gain});
    } else {
      row.refusal = made.error().ToString();
    }
    result.sets.push_back(row);
  }
  const auto examine = [&](const Change& change, std::uint64_t purpose,
                           int count) -> Result<std::monostate> {
    for (int k = 0; k < count; ++k) {
      const auto shot = Photograph(plan, options, options.questioned, change,
                                   seed(purpose, static_cast<std::uint64_t>(k)));
      if (!shot) return PassOn(shot);
      for (const Built& b : sets) {
        const auto begun = std::chrono::steady_clock::now();
        CompareOne(*shot, b.set, b.size, change, die_idx, b.gain, *die, result);
        const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begun;
        if (options.beside) {
          options.beside(
              {shot->photo, shot->truth, b.set, *die, b.gain, result.photos.back(), took.count()});
        }
      }
      const bool same_die = change.name == "genuine";
      const bool wanted = same_die || (options.categories && CategoryOf(change.name));
      if (!options.copies || !wanted) continue;
      for (const Degradation& d : Degradations()) {
        auto copy = Degrade(shot->photo, shot->truth.amounts.cap_height_px, d, shot->truth.seed);
        if (!copy) return PassOn(copy);
        // Copies of what departs keep its name: only categories are counted of them.
        const Change degraded{same_die ? std::string(kCopy) + d.name : change.name, 0, false, 0};
        for (const Built& b : sets) {
          CompareOne({*copy, shot->truth}, b.set, b.size, degraded, die_idx, b.gain, *die, result);
        }
      }
    }
    return std::monostate{};
  };
  if (const auto done = examine(genuine, 2, options.genuine); !done) return PassOn(done);
  std::uint64_t purpose = 10;
  for (const Change& change : Changes()) {
    ++purpose;
    const auto& only = options.only;
    if (!only.empty() && std::find(only.begin(), only.end(), change.name) == only.end()) continue;
    const auto wanted = simulate::CaseAsked(change.name);
    const char* text = change.name.starts_with("wordmark") ? plan.wordmark : plan.origin;
    if (wanted && outline::InCase(text, *wanted) == text) continue;
    const bool has_frame = plan.frame != outline::FrameKind::kNone;
    if (change.name == "frame-none" && !has_frame) continue;
    if ((change.name == "frame-ellipse" || change.name == "frame-rectangle") && has_frame) continue;
    if (const auto done = examine(change, purpose, options.departing); !done) return PassOn(done);
  }
  return result;
}

}  // namespace debossier::accuracy
