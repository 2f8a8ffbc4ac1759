#include "compare/check_set.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <map>

#include "base/quantile.h"
#include "compare/compare_photo.h"
#include "compare/hypotheses.h"
#include "compare/tell.h"

namespace debossier::compare {

namespace {

constexpr std::size_t kFewestToLeaveOneOut = 3;
constexpr std::size_t kFewestToDivide = 4;

/// The set with only some of its items.
refset::RefSet WithItems(const refset::RefSet& set, const std::vector<std::size_t>& keep) {
  refset::RefSet part = set;
  part.items.clear();
  for (const std::size_t i : keep) part.items.push_back(set.items[i]);
  return part;
}

ItemCheck CheckItem(const refset::RefSet& set, std::size_t index, double rate) {
  std::vector<std::size_t> rest;
  for (std::size_t i = 0; i < set.items.size(); ++i) {
    if (i != index) rest.push_back(i);
  }
  const refset::RefSet others = WithItems(set, rest);
  const Hypotheses tried = TestHypotheses(LearnSet(others), PosesOf(set, set.items[index]),
                                          rate / static_cast<double>(set.items.size()));
  ItemCheck check;
  check.item = set.items[index].id;
  check.reasons = DeparturesOf(tried, others);
  check.belongs = check.reasons.empty();
  const auto told = Tell(tried, others);
  for (const TriedSentence& s : told) {
    const double strength = std::abs(s.z) / s.level;
    if (strength <= check.strength) continue;
    check.strength = strength;
    check.furthest_z = s.z;
    check.furthest = s.measure + " " + s.label;
  }
  return check;
}

/// The items' residuals laid out for trying many divisions: how far each element of each item lies
/// from the items' mean, in standard deviations.
struct Residuals {
  std::vector<std::vector<double>> rows;  ///< By item.
};

Residuals ResidualsOf(const refset::RefSet& set) {
  const SetModel model = LearnSet(set);
  Residuals out;
  out.rows.resize(set.items.size());
  for (std::size_t j = 0; j < model.elements.size(); ++j) {
    const auto& items = model.elements[j].residuals;
    if (items.size() != set.items.size()) continue;  // not on all photos
    for (std::size_t i = 0; i < items.size(); ++i) {
      for (int k = 0; k < kPoseValues; ++k) {
        // Not by the set's own spread, which two dies make wide where they differ.
        out.rows[i].push_back(items[i][k] / UsualElementSpread()[k]);
      }
    }
  }
  return out;
}

/// How far a division parts the residuals: the sum of squares between its groups.
double Parted(const Residuals& residuals, const std::vector<bool>& second) {
  double sum = 0;
  const std::size_t values = residuals.rows.front().size();
  double count[2] = {0, 0};
  for (const bool g : second) ++count[g];
  for (std::size_t v = 0; v < values; ++v) {
    double mean[2] = {0, 0};
    for (std::size_t i = 0; i < second.size(); ++i) {
      mean[second[i]] += residuals.rows[i][v] / count[second[i]];
    }
    sum += (mean[1] - mean[0]) * (mean[1] - mean[0]);
  }
  return sum / (1 / count[0] + 1 / count[1]);
}

/// A group's mean as one photo.
PhotoPoses MeanPoses(const SetModel& group) {
  PhotoPoses poses;
  poses.blur = std::sqrt(group.blur_variance);
  for (const auto& e : group.elements) {
    poses.elements.push_back(e.is_known ? std::optional(measure::Pose{e.mean, e.of_mean})
                                        : std::nullopt);
  }
  return poses;
}

/// Divisions of n items into two groups of two and more, the first item in the first group.
double CountOfDivisions(std::size_t n) {
  return std::exp2(static_cast<double>(n) - 1) - 1 - static_cast<double>(n);
}

/// The divisions to try: all where they are few, else cuts along the line on which the items'
/// standardised features vary most (first principal component, by power iteration).
std::vector<std::vector<bool>> DivisionsToTry(const Residuals& residuals) {
  constexpr std::size_t kMostForAll = 10;
  const auto& rows = residuals.rows;
  const std::size_t n = rows.size();
  std::vector<std::vector<bool>> divisions;
  if (n <= kMostForAll) {
    for (unsigned bits = 1; bits < 1U << (n - 1); ++bits) {
      const auto count = static_cast<std::size_t>(std::popcount(bits));
      if (count < 2 || count + 2 > n) continue;
      std::vector<bool> second(n, false);
      for (std::size_t i = 1; i < n; ++i) second[i] = ((bits >> (i - 1)) & 1U) != 0;
      divisions.push_back(std::move(second));
    }
    return divisions;
  }
  const std::size_t columns = rows.front().size();
  std::vector<double> along(n);
  for (std::size_t i = 0; i < n; ++i) along[i] = i == 0 ? 1 : 1 / static_cast<double>(i + 1);
  for (int round = 0; round < 60; ++round) {
    std::vector<double> direction(columns, 0.0);
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t k = 0; k < columns; ++k) direction[k] += along[i] * rows[i][k];
    }
    double norm = 0;
    for (std::size_t i = 0; i < n; ++i) {
      along[i] = 0;
      for (std::size_t k = 0; k < columns; ++k) along[i] += direction[k] * rows[i][k];
      norm = std::max(norm, std::abs(along[i]));
    }
    for (double& a : along) a /= std::max(norm, 1e-300);
  }
  std::vector<std::size_t> order(n);
  for (std::size_t i = 0; i < n; ++i) order[i] = i;
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return along[a] < along[b]; });
  for (std::size_t cut = 2; cut + 2 <= n; ++cut) {
    std::vector<bool> second(n, false);
    for (std::size_t i = cut; i < n; ++i) second[order[i]] = true;
    divisions.push_back(std::move(second));
  }
  return divisions;
}

/// The few divisions that part the residuals most.
std::vector<std::vector<bool>> MostParting(const Residuals& residuals) {
  constexpr std::size_t kMostTested = 8;
  auto divisions = DivisionsToTry(residuals);
  std::stable_sort(divisions.begin(), divisions.end(), [&](const auto& a, const auto& b) {
    return Parted(residuals, a) > Parted(residuals, b);
  });
  if (divisions.size() > kMostTested) divisions.resize(kMostTested);
  return divisions;
}

std::vector<std::size_t> GroupOf(const std::vector<bool>& second, bool which) {
  std::vector<std::size_t> group;
  for (std::size_t i = 0; i < second.size(); ++i) {
    if (second[i] == which) group.push_back(i);
  }
  return group;
}

Division Divide(const refset::RefSet& set, double rate) {
  Division best;
  const std::size_t n = set.items.size();
  if (n < kFewestToDivide) return best;
  const Residuals residuals = ResidualsOf(set);
  if (residuals.rows.front().empty()) return best;
  best.tried = true;
  best.strength = -1;
  // The one that parts most comes first: among those that are said, it is the one.
  for (const auto& second : MostParting(residuals)) {
    const refset::RefSet first = WithItems(set, GroupOf(second, false));
    const PhotoPoses other = MeanPoses(LearnSet(WithItems(set, GroupOf(second, true))));
    const Hypotheses tried = TestHypotheses(LearnSet(first), other, rate / CountOfDivisions(n));
    double strength = 0;
    for (const Hypothesis& h : tried.all) strength = std::max(strength, h.Strength());
    if (strength <= best.strength) continue;
    best.strength = strength;
    best.first.clear();
    best.second.clear();
    for (std::size_t i = 0; i < n; ++i) {
      (second[i] ? best.second : best.first).push_back(set.items[i].id);
    }
    best.separations.clear();
    for (const Reason& r : DeparturesOf(tried, first)) {
      best.separations.push_back({r.measure, r.unit, r.value, r.text});
    }
    if (strength > 1) break;
  }
  best.two_dies = best.strength > 1;
  return best;
}

/// The features that any item has, each at the items' mean.
std::vector<measure::FeatureValue> MeansOf(const refset::RefSet& set) {
  std::map<std::string, Measured> keys;
  for (const auto& item : set.items) keys.insert(item.features.begin(), item.features.end());
  auto means = measure::FeaturesOf(set.lettering, keys);
  for (auto& f : means) f.value = refset::StatisticsOf(set, f.key).mean;
  return means;
}

std::vector<SetFeature> FeaturesOfSet(const refset::RefSet& set) {
  auto means = MeansOf(set);
  std::stable_sort(means.begin(), means.end(),
                   [](const auto& a, const auto& b) { return a.kind < b.kind; });
  std::erase_if(means, [](const auto& m) { return m.kind == measure::FeatureKind::kTracking; });
  const auto beside = BesideSet(set, means);
  std::vector<SetFeature> features;
  for (std::size_t i = 0; i < means.size(); ++i) {
    const auto s = refset::StatisticsOf(set, means[i].key);
    features.push_back(
        {means[i].label, means[i].unit, s.mean, s.deviation, beside[i].spread, s.values});
  }
  return features;
}

/// Limits of every sentence for a photo of a quality: that share of the items' uncertainties, times
/// `factor`, on an item that is the mean itself.
std::vector<TriedSentence> LimitsOf(const refset::RefSet& set, const SetModel& model,
                                    const std::vector<PhotoPoses>& items, double share,
                                    double factor, double rate) {
  PhotoPoses photo;
  photo.blur = factor * std::sqrt(model.blur_variance);
  for (std::size_t j = 0; j < model.elements.size(); ++j) {
    std::vector<std::pair<double, const measure::Pose*>> shown;
    for (const auto& item : items) {
      if (item.elements[j]) {
        shown.emplace_back(item.elements[j]->covariance.trace(), &*item.elements[j]);
      }
    }
    if (shown.empty()) {
      photo.elements.emplace_back();
      continue;
    }
    std::sort(shown.begin(), shown.end(),
              [](const auto& a, const auto& b) { return a.first < b.first; });
    const auto at = static_cast<std::size_t>(share * static_cast<double>(shown.size() - 1));
    photo.elements.emplace_back(
        measure::Pose{model.elements[j].mean, factor * factor * shown[at].second->covariance});
  }
  return Tell(TestHypotheses(model, photo, rate), set);
}

std::vector<MeasureReach> ReachOf(const refset::RefSet& set, double rate) {
  std::vector<MeasureReach> reach;
  if (set.items.empty()) return reach;
  const SetModel model = LearnSet(set);
  std::vector<PhotoPoses> items;
  for (const auto& item : set.items) items.push_back(PosesOf(set, item));
  const auto good = LimitsOf(set, model, items, 0.25, 1, rate);
  const auto usual = LimitsOf(set, model, items, 0.5, 1, rate);
  const auto poor = LimitsOf(set, model, items, 1, 2, rate);
  std::map<std::string, std::vector<double>> of_good, of_usual, of_poor;
  for (const auto& s : good) of_good[s.measure].push_back(s.limit);
  for (const auto& s : usual) of_usual[s.measure].push_back(s.limit);
  for (const auto& s : poor) of_poor[s.measure].push_back(s.limit);
  for (const auto& s : usual) {
    auto known = std::find_if(reach.begin(), reach.end(),
                              [&](const MeasureReach& r) { return r.measure == s.measure; });
    if (known == reach.end()) {
      MeasureReach r;
      r.measure = s.measure;
      r.unit = s.unit;
      r.features = static_cast<int>(of_usual[s.measure].size());
      r.good = Quantile(of_good[s.measure], 0.5);
      r.usual = Quantile(of_usual[s.measure], 0.5);
      r.poor = Quantile(of_poor[s.measure], 0.5);
      reach.push_back(std::move(r));
      known = reach.end() - 1;
    }
    if (s.limit <= known->worst) continue;
    known->worst = s.limit;
    known->worst_label = s.label;
  }
  return reach;
}

void AddNeeds(const refset::RefSet& set, SetCheck& check) {
  constexpr double kSmallPx = 60;    // below it gaps of 1 % are a third of a pixel's blur
  constexpr double kBlurred = 0.05;  // of the cap height
  const std::size_t n = set.items.size();
  if (n == 0) {
    check.needs.push_back(
        "The set has no verified item: how far genuine items vary is the usual spread, on trust. "
        "Add photos of verified items.");
  } else if (n < kFewestToLeaveOneOut) {
    check.needs.push_back(fmt::format(
        "With {} nobody can tell whether it belongs: three or more can be held against each other.",
        n == 1 ? "one item" : "two items"));
  } else if (n < kFewestToDivide) {
    check.needs.push_back(
        "With three items two dies cannot be distinguished from one; a fourth item would do it.");
  }
  std::vector<std::string> small, blurred, no_basis, no_name, not_kept;
  for (const auto& item : set.items) {
    if (item.cap_height_px > 0 && item.cap_height_px < kSmallPx) small.push_back(item.id);
    if (item.blur_px > kBlurred * item.cap_height_px) blurred.push_back(item.id);
    if (item.basis.empty()) no_basis.push_back(item.id);
    if (item.entered_by.empty() || item.entered_on.empty()) no_name.push_back(item.id);
    if (item.photo_kept.empty()) not_kept.push_back(item.id);
  }
  const auto say = [&](const std::vector<std::string>& ids, const std::string& what) {
    if (!ids.empty()) check.needs.push_back(fmt::format("{}: {}", fmt::join(ids, ", "), what));
  };
  say(small, "the lettering is small in the photo; a closer one makes every limit smaller.");
  say(blurred, "the photo is blurred; a sharp one makes every limit smaller.");
  say(no_basis, "no basis of verification is recorded; the set cannot be defended with it.");
  say(no_name, "who entered it, or when, is not recorded.");
  say(not_kept,
      "the photo is not kept in the library: outlines cannot be traced again without it.");
}

}  // namespace

bool SetCheck::is_consistent() const {
  return !division.two_dies &&
         std::all_of(items.begin(), items.end(), [](const ItemCheck& i) { return i.belongs; });
}

Result<SetCheck> CheckSet(const refset::RefSet& set, double false_flag_rate) {
  CompareOptions options;
  options.false_flag_rate = false_flag_rate;
  if (auto checked = options.Check(); !checked) return PassOn(checked);
  SetCheck check;
  check.refset_id = set.id;
  check.refset_revision = set.revision;
  check.false_flag_rate = false_flag_rate;
  if (set.items.size() >= kFewestToLeaveOneOut) {
    for (std::size_t i = 0; i < set.items.size(); ++i) {
      check.items.push_back(CheckItem(set, i, false_flag_rate));
    }
  }
  check.division = Divide(set, false_flag_rate);
  check.reach = ReachOf(set, false_flag_rate);
  check.features = FeaturesOfSet(set);
  AddNeeds(set, check);
  return check;
}

}  // namespace debossier::compare
