#include "compare/together.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "compare/category_rates.h"
#include "compare/statistics.h"
#include "compare/tell.h"
#include "measure/features.h"

namespace debossier::compare {

namespace {

using Photos = std::vector<NumberedComparison>;

/// No photo is trusted to miss a departure less often, whatever its numbers say: glare and dirt are
/// in no limit. Chosen, not counted.
constexpr double kLeastMiss = 0.02;
/// Above this chance to miss, a photo that is silent says nothing.
constexpr double kMostMiss = 0.5;

const Comparison& ComparisonOf(const Photos& photos, int number) {
  const auto at =
      std::find_if(photos.begin(), photos.end(), [&](const auto& p) { return p.number == number; });
  DEBOSSIER_ASSERT(at != photos.end());
  return *at->comparison;
}

bool IsSame(const Reason& a, const Reason& b) {
  return a.measure == b.measure && a.category == b.category && a.elements == b.elements &&
         std::signbit(a.value) == std::signbit(b.value);
}

/// Both are about one line, or the mark, or the frame.
bool IsNear(const Reason& a, const Reason& b) {
  if (a.elements.empty() || b.elements.empty()) return a.measure == b.measure;
  return std::any_of(a.elements.begin(), a.elements.end(), [&](const std::string& of_a) {
    return std::any_of(b.elements.begin(), b.elements.end(),
                       [&](const std::string& of_b) { return LineOf(of_a) == LineOf(of_b); });
  });
}

const TriedSentence* SentenceSaid(const Comparison& c, const Reason& reason) {
  for (const TriedSentence& s : c.sentences) {
    if (s.departs && s.measure == reason.measure && s.elements == reason.elements) return &s;
  }
  return nullptr;
}

double MissOfSentence(const TriedSentence& said, const Comparison& c) {
  const auto here = std::find_if(c.sentences.begin(), c.sentences.end(),
                                 [&](const TriedSentence& s) { return s.key == said.key; });
  if (here == c.sentences.end() || !(here->limit > 0)) return 1;
  // What agrees with the amount is no word against it, though too weak to be said.
  if (std::abs(said.amplitude - here->amplitude) < 2 * std::hypot(said.u, here->u)) return 1;
  const double u = here->limit / (here->level + kNineOfTen);
  return NormalUpperP(std::abs(said.amplitude) / u - here->level);
}

/// What photos of one stamp differ by beyond their own uncertainties, standard deviations in cap
/// heights. Counted on 80 simulated items of three photos each; why these three need it was not
/// looked for, all other kinds need nothing.
double BetweenPhotos(const std::string& measure) {
  return measure == "line place across"  ? 0.004
         : measure == "baseline"         ? 0.003
         : measure == "line place along" ? 0.002
                                         : 0;
}

/// Of one photo, with its own uncertainty alone.
std::vector<measure::FeatureValue> ValuesOf(const Comparison& c) {
  std::vector<measure::FeatureValue> values = measure::FeaturesOf(c.reference, c.measured);
  std::erase_if(values, [](const auto& v) { return !(v.u > 0); });
  for (auto& v : values) v.u = std::hypot(v.u, BetweenPhotos(v.measure));
  return values;
}

/// Were the value of `said_by` the stamp's, how seldom this photo would measure another that is so
/// far from it, and nearer to the set's.
double MissOfValue(const Reason& reason, const Comparison& said_by, const Comparison& c) {
  const Feature* beside = FeatureOf(said_by, reason);
  if (beside == nullptr) return 1;
  const auto value_in = [&](const Comparison& photo) -> std::optional<Measured> {
    for (const auto& v : ValuesOf(photo)) {
      if (v.measure == beside->measure && v.elements == beside->elements) {
        return Measured{v.value, v.u};
      }
    }
    return std::nullopt;
  };
  const auto there = value_in(said_by), here = value_in(c);
  if (!there || !here) return 1;
  if (std::abs(here->value - beside->expected) >= std::abs(there->value - beside->expected)) {
    return 1;
  }
  return 2 * NormalUpperP(std::abs(here->value - there->value) / std::hypot(here->u, there->u));
}

double MissOfCategory(const Reason& reason, const Comparison& c) {
  for (const CategoryTrial& t : c.categories) {
    if (t.category != reason.category || t.subject != SubjectOf(reason)) continue;
    if (t.seen || !t.would_show || t.departing.photos == 0) return 1;
    return 1 - static_cast<double>(t.departing.beyond) / t.departing.photos;
  }
  return 1;
}

/// The chance that such a photo would not show the departure that `said_by` says; 1 where it was
/// not looked for, or the photo has another word for it.
double ChanceToMiss(const Reason& reason, const Comparison& said_by, const Comparison& c) {
  if (c.finding == Finding::kDeparts &&
      std::any_of(c.reasons.begin(), c.reasons.end(),
                  [&](const Reason& r) { return IsNear(r, reason); })) {
    return 1;
  }
  const TriedSentence* said = SentenceSaid(said_by, reason);
  double miss = MissOfValue(reason, said_by, c);
  if (said != nullptr) miss = std::min(miss, MissOfSentence(*said, c));
  if (said == nullptr && reason.category) miss = MissOfCategory(reason, c);
  return std::clamp(miss, kLeastMiss, 1.0);
}

/// Departures of all photos, those of the most telling photo first.
std::vector<JointReason> JoinReasons(const Photos& photos, double rate) {
  Photos by_score = photos;
  std::stable_sort(by_score.begin(), by_score.end(), [](const auto& a, const auto& b) {
    return a.comparison->score > b.comparison->score;
  });
  std::vector<JointReason> joint;
  for (const auto& [number, c] : by_score) {
    if (c->finding != Finding::kDeparts) continue;
    for (const Reason& reason : c->reasons) {
      const auto known = std::find_if(joint.begin(), joint.end(), [&](const JointReason& j) {
        return IsSame(j.reason, reason);
      });
      if (known == joint.end()) {
        joint.push_back({reason, number, {number}, {}, false});
      } else {
        known->said_by.push_back(number);
      }
    }
  }
  for (JointReason& j : joint) {
    std::sort(j.said_by.begin(), j.said_by.end());
    const Comparison& best = ComparisonOf(photos, j.shown_best);
    double missed_by_all = 1;
    for (const auto& [number, c] : photos) {
      if (std::count(j.said_by.begin(), j.said_by.end(), number) > 0) continue;
      const double miss = ChanceToMiss(j.reason, best, *c);
      if (miss > kMostMiss) continue;
      j.silent.push_back({number, miss});
      missed_by_all *= miss;
    }
    j.withdrawn = missed_by_all < std::pow(rate, static_cast<double>(j.said_by.size()));
  }
  std::stable_partition(joint.begin(), joint.end(), [](const auto& j) { return !j.withdrawn; });
  return joint;
}

/// One feature as the photos measured it.
struct Series {
  measure::FeatureValue value;  ///< Its names; then combined.
  std::vector<int> photos;
  std::vector<double> values;
  std::vector<double> u;
};

/// Features in the order in which photos first show them, each with all photos' values.
std::vector<Series> Collect(const Photos& photos) {
  std::vector<Series> series;
  std::map<std::string, std::size_t> by_key;
  for (const auto& [number, c] : photos) {
    std::set<std::pair<std::string, std::vector<std::string>>> compared;
    for (const Feature& f : c->features) compared.emplace(f.measure, f.elements);
    for (const auto& v : ValuesOf(*c)) {
      if (!compared.contains({v.measure, v.elements})) continue;
      const auto [at, is_new] = by_key.emplace(v.key, series.size());
      if (is_new) series.push_back({v, {}, {}, {}});
      Series& s = series[at->second];
      s.photos.push_back(number);
      s.values.push_back(v.value);
      s.u.push_back(v.u);
    }
  }
  return series;
}

void Combine(Series& s) {
  double weights = 0, sum = 0, chi2 = 0;
  for (std::size_t i = 0; i < s.values.size(); ++i) {
    const double w = 1 / (s.u[i] * s.u[i]);
    weights += w;
    sum += w * s.values[i];
  }
  s.value.value = sum / weights;
  for (std::size_t i = 0; i < s.values.size(); ++i) {
    chi2 += std::pow((s.values[i] - s.value.value) / s.u[i], 2);
  }
  const double freedom = static_cast<double>(s.values.size()) - 1;
  const double birge = freedom > 0 ? std::sqrt(std::max(1.0, chi2 / freedom)) : 1;
  s.value.u = birge / std::sqrt(weights);
}

std::size_t Pairs(const Series& s) { return s.photos.size() * (s.photos.size() - 1) / 2; }

/// The two values of one quantity that lie furthest apart, where that is no accident.
void AddContradiction(const Series& s, double level, std::vector<Contradiction>& contradictions) {
  double worst = level;
  std::size_t first = 0, second = 0;
  for (std::size_t i = 0; i < s.values.size(); ++i) {
    for (std::size_t k = i + 1; k < s.values.size(); ++k) {
      const double z = std::abs(s.values[i] - s.values[k]) / std::hypot(s.u[i], s.u[k]);
      if (z <= worst) continue;
      worst = z;
      first = i;
      second = k;
    }
  }
  if (second == 0) return;
  const auto in_words = [&](std::size_t i) {
    return fmt::format("photo {} {:.4f} ± {:.4f}", s.photos[i], s.values[i], 2 * s.u[i]);
  };
  contradictions.push_back(
      {{s.photos[first], s.photos[second]},
       fmt::format("The {} differs between photos: {}, {} ({}, k = 2).", s.value.label,
                   in_words(first), in_words(second), s.value.unit)});
}

/// Values that photos contradict each other in, each pair at its share of `rate`.
std::vector<Contradiction> ContradictionsOf(const std::vector<Series>& series, double rate) {
  std::size_t pairs = 0;
  for (const Series& s : series) {
    if (s.value.kind != measure::FeatureKind::kShape) pairs += Pairs(s);
  }
  std::vector<Contradiction> contradictions;
  if (pairs == 0) return contradictions;
  const double level = NormalUpperQuantile(rate / 2 / static_cast<double>(pairs));
  for (const Series& s : series) {
    // Distances of outlines grow with blur and noise: two photos' are not one quantity.
    if (s.value.kind == measure::FeatureKind::kShape) continue;
    AddContradiction(s, level, contradictions);
  }
  return contradictions;
}

void AddSilent(const JointReason& j, const Photos& photos,
               std::vector<Contradiction>& contradictions) {
  if (j.silent.empty()) return;
  std::vector<int> silent;
  double most = 0;
  for (const SilentPhoto& s : j.silent) {
    silent.push_back(s.number);
    most = std::max(most, s.chance_to_miss);
  }
  const TriedSentence* said = SentenceSaid(ComparisonOf(photos, j.shown_best), j.reason);
  Contradiction c;
  c.photos = j.said_by;
  c.photos.insert(c.photos.end(), silent.begin(), silent.end());
  c.text = fmt::format(
      "A departure ({}) is seen in {}, not in {}: {} miss it in {:.0f} of 100 cases"
      "{}.",
      said != nullptr ? said->label : j.reason.measure, PhotosInWords(j.said_by),
      PhotosInWords(silent), silent.size() == 1 ? "such a photo would" : "each such photo would",
      std::ceil(100 * most), silent.size() == 1 ? "" : " at most");
  contradictions.push_back(std::move(c));
}

std::vector<TriedSentence> BestSentences(const Photos& photos) {
  std::vector<TriedSentence> best;
  std::map<std::string, std::size_t> by_key;
  for (const auto& [number, c] : photos) {
    for (const TriedSentence& s : c->sentences) {
      const auto [at, is_new] = by_key.emplace(s.key, best.size());
      if (is_new) {
        best.push_back(s);
      } else if (s.limit < best[at->second].limit) {
        best[at->second] = s;
      }
    }
  }
  return best;
}

/// What none of the photos shows of what the set asks for; each of them by itself cannot tell.
std::vector<std::string> Untold(const refset::RefSet& set, const Photos& photos,
                                const std::vector<TriedSentence>& sentences) {
  std::vector<std::string> untold;
  std::set<std::string> found;
  for (const auto& [number, c] : photos) {
    for (const auto& e : c->measured.elements) {
      if (e.found) found.insert(e.id);
    }
  }
  if (IsTooLittle(found.size(), set.lettering.elements.size())) {
    untold.emplace_back("Too much of the lettering cannot be seen in any of the photos.");
  }
  std::size_t asked = 0, open = 0;
  for (const TriedSentence& s : sentences) {
    if (s.measure != "gap" && s.measure != "mark gap") continue;
    ++asked;
    open += s.decidable ? 0 : 1;
  }
  if (AreTooMany(open, asked) || asked == 0) {
    untold.emplace_back("No photo measures the places of letters as closely as the set asks for.");
  }
  for (const std::string& essential : set.asks.essential) {
    const auto is_open = [&](const NumberedComparison& p) {
      const Comparison& c = *p.comparison;
      const bool hidden = std::any_of(c.categories.begin(), c.categories.end(), [&](const auto& t) {
        const bool frame =
            t.category == Category::kFrameAbsent || t.category == Category::kFrameAdded;
        return essential == "frame" && frame && !t.would_show;
      });
      return hidden || std::any_of(c.reasons.begin(), c.reasons.end(),
                                   [&](const Reason& r) { return r.measure == essential; });
    };
    if (std::all_of(photos.begin(), photos.end(), is_open)) {
      untold.push_back(fmt::format("No photo shows what the set asks for of the {}.", essential));
    }
  }
  return untold;
}

std::string OwnItems(const Photos& photos) {
  for (const auto& [number, c] : photos) {
    if (c->own_item.empty()) continue;
    return fmt::format(
        "Photo {} shows {}, one of the set's own items: the set cannot speak against what it was "
        "made from. ",
        number, c->own_item);
  }
  return "";
}

void Decide(const refset::RefSet& set, const Photos& photos, Together& t) {
  if (photos.empty()) {
    t.summary = "None of the photos could be compared with this set.";
    return;
  }
  const auto standing = std::count_if(t.reasons.begin(), t.reasons.end(),
                                      [](const JointReason& j) { return !j.withdrawn; });
  if (standing > 0) {
    const JointReason& first = t.reasons.front();
    t.finding = Finding::kDeparts;
    t.summary = fmt::format("The lettering departs from the verified items of this set, by {}: {}",
                            PhotosInWords(first.said_by), first.reason.text);
    return;
  }
  if (!t.reasons.empty()) {
    t.summary = fmt::format(
        "The photos contradict each other: a departure in {} should show in others and does not. "
        "They may show different stamps, or glare or dirt mars one of them.",
        PhotosInWords(t.reasons.front().said_by));
    return;
  }
  const bool any = std::any_of(photos.begin(), photos.end(), [](const auto& p) {
    return p.comparison->finding == Finding::kNoDepartureFound;
  });
  if (!any) t.untold = Untold(set, photos, t.sentences);
  if (!t.untold.empty()) {
    for (const std::string& text : t.untold) t.summary += (t.summary.empty() ? "" : " ") + text;
    return;
  }
  t.finding = Finding::kNoDepartureFound;
  t.summary = "Nothing that these photos show departs from the verified items of this set.";
  if (!any) t.summary += " Each photo shows a part of what the set asks for, together they do.";
}

}  // namespace

std::string PhotosInWords(const std::vector<int>& numbers) {
  std::string words = numbers.size() == 1 ? "photo " : "photos ";
  for (std::size_t i = 0; i < numbers.size(); ++i) {
    words += i == 0 ? "" : i + 1 == numbers.size() ? " and " : ", ";
    words += fmt::format("{}", numbers[i]);
  }
  return words;
}

double ItemComparison::RateOfPhoto() const {
  return false_flag_rate / static_cast<double>(std::max<std::size_t>(1, photos.size()));
}

Together TakeTogether(const refset::RefSet& set, const std::vector<NumberedComparison>& photos,
                      double rate) {
  Together t;
  t.refset_id = set.id;
  t.reasons = JoinReasons(photos, rate);
  std::vector<Series> series = Collect(photos);
  t.contradictions = ContradictionsOf(series, rate);
  for (const JointReason& j : t.reasons) AddSilent(j, photos, t.contradictions);
  t.sentences = BestSentences(photos);
  Decide(set, photos, t);
  std::vector<measure::FeatureValue> values;
  for (Series& s : series) {
    Combine(s);
    values.push_back(s.value);
  }
  for (Feature& f : BesideSet(set, values)) {
    const auto of = std::find_if(series.begin(), series.end(), [&](const Series& s) {
      return s.value.measure == f.measure && s.value.elements == f.elements;
    });
    f.departs = t.finding == Finding::kDeparts &&
                std::any_of(photos.begin(), photos.end(), [&](const NumberedComparison& p) {
                  return std::any_of(p.comparison->features.begin(), p.comparison->features.end(),
                                     [&](const Feature& own) {
                                       return own.departs && own.measure == f.measure &&
                                              own.elements == f.elements;
                                     });
                });
    t.features.push_back({std::move(f), of->photos});
  }
  return t;
}

ItemComparison JudgeItem(std::vector<ItemPhoto> photos,
                         const std::vector<const refset::RefSet*>& sets, double rate) {
  ItemComparison item;
  item.false_flag_rate = rate;
  item.photos = std::move(photos);
  std::size_t departing = 0, without = 0;
  std::string others;
  for (const refset::RefSet* set : sets) {
    Photos of_set;
    for (std::size_t i = 0; i < item.photos.size(); ++i) {
      const ItemPhoto& photo = item.photos[i];
      if (photo.refset_id != set->id || !photo.comparison) continue;
      of_set.push_back({static_cast<int>(i) + 1, &*photo.comparison});
    }
    item.sets.push_back(TakeTogether(*set, of_set, rate));
    Together& t = item.sets.back();
    t.summary = OwnItems(of_set) + t.summary;
    departing += t.finding == Finding::kDeparts ? 1 : 0;
    without += t.finding == Finding::kNoDepartureFound ? 1 : 0;
  }
  item.finding = departing > 0                 ? Finding::kDeparts
                 : without == item.sets.size() ? Finding::kNoDepartureFound
                                               : Finding::kCannotTell;
  // What decides is said first.
  for (const bool decides : {true, false}) {
    for (const Together& t : item.sets) {
      if ((t.finding == item.finding) != decides) continue;
      if (!item.summary.empty()) item.summary += " ";
      if (item.sets.size() > 1) item.summary += fmt::format("Set {}: ", t.refset_id);
      item.summary += t.summary;
    }
  }
  return item;
}

}  // namespace debossier::compare
