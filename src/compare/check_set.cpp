#include "compare/check_set.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <map>

#include "base/quantile.h"
#include "compare/compare_photo.h"
#include "compare/statistics.h"

namespace debossier::compare {

namespace {

constexpr std::size_t kFewestToLeaveOneOut = 3;
constexpr std::size_t kFewestToDivide = 4;
constexpr std::size_t kMostReasons = 5;

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
  const auto values = measure::FeaturesOf(set.lettering, set.items[index].features);
  CompareOptions options;
  options.false_flag_rate = rate;
  const auto features = TestFeatures(others, values, options);
  ItemCheck check;
  check.item = set.items[index].id;
  check.p = TestTogether(features, values, others.items.size()).p;
  check.p_adjusted = std::min(1.0, check.p * static_cast<double>(set.items.size()));
  check.belongs = check.p_adjusted >= rate;
  for (const Feature& f : features) {
    if (std::abs(f.z) <= std::abs(check.largest_z)) continue;
    check.largest_z = f.z;
    check.largest_label = f.label;
  }
  if (check.belongs) return check;
  std::vector<const Feature*> straying;
  for (const Feature& f : features) {
    if (f.p < 0.01) straying.push_back(&f);
  }
  std::stable_sort(straying.begin(), straying.end(),
                   [](const Feature* a, const Feature* b) { return a->p < b->p; });
  if (straying.size() > kMostReasons) straying.resize(kMostReasons);
  for (const Feature* f : straying) check.reasons.push_back(ReasonOf(*f, others));
  return check;
}

/// One feature's values on the items, laid out for trying many divisions.
struct Column {
  measure::FeatureValue feature;
  SpreadPrior prior;
  std::vector<double> value, u;  ///< By item.
};

std::vector<Column> ColumnsOf(const refset::RefSet& set) {
  std::vector<Column> columns;
  std::map<std::string, Measured> everywhere;
  for (const auto& [key, first] : set.items[0].features) {
    const bool all = std::all_of(set.items.begin(), set.items.end(),
                                 [&, k = key](const auto& i) { return i.features.contains(k); });
    if (all) everywhere[key] = first;
  }
  for (auto& f : measure::FeaturesOf(set.lettering, everywhere)) {
    // One-sided distances to an outline that all items drew together cannot part them.
    if (f.kind == measure::FeatureKind::kShape) continue;
    Column c{f, PriorOf(f.kind), {}, {}};
    for (const auto& item : set.items) {
      c.value.push_back(item.features.at(f.key).value);
      c.u.push_back(item.features.at(f.key).u);
    }
    columns.push_back(std::move(c));
  }
  return columns;
}

/// The two groups' means of one feature against each other: a t-test with one pooled spread,
/// shrunk towards the usual one, and the photos' own uncertainty.
Feature TestDivision(const Column& column, const std::vector<bool>& second) {
  const std::size_t n = second.size();
  double mean[2] = {0, 0};
  double count[2] = {0, 0};
  for (std::size_t i = 0; i < n; ++i) {
    mean[second[i]] += column.value[i];
    ++count[second[i]];
  }
  for (const int g : {0, 1}) mean[g] /= count[g];
  double squares = 0;
  double measured = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const double off = column.value[i] - mean[second[i]];
    squares += off * off;
    measured += column.u[i] * column.u[i] / static_cast<double>(n);
  }
  const double df = static_cast<double>(n) - 2;
  const auto spread = Shrink(column.prior.deviation * column.prior.deviation, column.prior.df,
                             std::max(0.0, squares / df - measured), df);
  double weight[2] = {0, 0};
  double weighted[2] = {0, 0};
  for (std::size_t i = 0; i < n; ++i) {
    const double w = 1 / (spread.variance + column.u[i] * column.u[i]);
    weight[second[i]] += w;
    weighted[second[i]] += w * column.value[i];
  }
  Feature f;
  f.measure = column.feature.measure;
  f.label = column.feature.label;
  f.unit = column.feature.unit;
  f.value = weighted[1] / weight[1];
  f.expected = weighted[0] / weight[0];
  f.z = (f.value - f.expected) / std::sqrt(1 / weight[0] + 1 / weight[1]);
  f.degrees_of_freedom = spread.df;
  f.p = StudentTwoSidedP(f.z, spread.df);
  return f;
}

std::vector<Feature> TestDivision(const std::vector<Column>& columns,
                                  const std::vector<double>& weights,
                                  const std::vector<bool>& second) {
  std::vector<Feature> features;
  std::vector<double> p;
  for (const Column& column : columns) {
    features.push_back(TestDivision(column, second));
    p.push_back(features.back().p);
  }
  const auto adjusted = HolmAdjusted(p, weights);
  for (std::size_t i = 0; i < features.size(); ++i) features[i].p_adjusted = adjusted[i];
  return features;
}

/// Divisions of n items into two groups of two and more, the first item in the first group.
double CountOfDivisions(std::size_t n) {
  return std::exp2(static_cast<double>(n) - 1) - 1 - static_cast<double>(n);
}

/// The divisions to try: all where they are few, else cuts along the line on which the items'
/// standardised features vary most (first principal component, by power iteration).
std::vector<std::vector<bool>> DivisionsToTry(const std::vector<Column>& columns, std::size_t n) {
  constexpr std::size_t kMostForAll = 10;
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
  std::vector<std::vector<double>> rows(n);
  for (const Column& c : columns) {
    double mean = 0;
    double u2 = 0;
    for (std::size_t i = 0; i < n; ++i) {
      mean += c.value[i] / static_cast<double>(n);
      u2 += c.u[i] * c.u[i] / static_cast<double>(n);
    }
    const double unit = std::sqrt(c.prior.deviation * c.prior.deviation + u2);
    for (std::size_t i = 0; i < n; ++i) rows[i].push_back((c.value[i] - mean) / unit);
  }
  std::vector<double> along(n);
  for (std::size_t i = 0; i < n; ++i) along[i] = i == 0 ? 1 : 1 / static_cast<double>(i + 1);
  for (int round = 0; round < 60; ++round) {
    std::vector<double> direction(columns.size(), 0.0);
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t k = 0; k < columns.size(); ++k) direction[k] += along[i] * rows[i][k];
    }
    double norm = 0;
    for (std::size_t i = 0; i < n; ++i) {
      along[i] = 0;
      for (std::size_t k = 0; k < columns.size(); ++k) along[i] += direction[k] * rows[i][k];
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

Division Divide(const refset::RefSet& set, double rate) {
  Division best;
  const std::size_t n = set.items.size();
  if (n < kFewestToDivide) return best;
  const auto columns = ColumnsOf(set);
  if (columns.empty()) return best;
  best.tried = true;
  std::vector<measure::FeatureValue> values;
  for (const auto& c : columns) values.push_back(c.feature);
  const auto weights = WeightsOf(values);
  double least = 2;
  std::vector<Feature> features;
  std::vector<bool> side;
  for (const auto& second : DivisionsToTry(columns, n)) {
    auto tested = TestDivision(columns, weights, second);
    const double p = TestTogether(tested, values, n - 1).p;
    if (p >= least) continue;
    least = p;
    features = std::move(tested);
    side = second;
  }
  best.p = std::min(1.0, least * CountOfDivisions(n));
  best.two_dies = best.p < rate;
  for (std::size_t i = 0; i < n; ++i) {
    (side[i] ? best.second : best.first).push_back(set.items[i].id);
  }
  std::stable_sort(features.begin(), features.end(),
                   [](const Feature& a, const Feature& b) { return a.p < b.p; });
  for (const Feature& f : features) {
    if (f.p >= 0.01 || best.separations.size() == kMostReasons) break;
    best.separations.push_back({f.label, f.measure, f.unit, f.value - f.expected, f.p});
  }
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

std::vector<SetFeature> FeaturesOfSet(const refset::RefSet& set,
                                      std::vector<measure::FeatureValue> means) {
  std::stable_sort(means.begin(), means.end(),
                   [](const auto& a, const auto& b) { return a.kind < b.kind; });
  const auto tested = TestFeatures(set, means, {});
  std::vector<SetFeature> features;
  for (std::size_t i = 0; i < means.size(); ++i) {
    const auto s = refset::StatisticsOf(set, means[i].key);
    features.push_back(
        {means[i].label, means[i].unit, s.mean, s.deviation, tested[i].spread, s.values});
  }
  return features;
}

std::vector<MeasureReach> ReachOf(const refset::RefSet& set,
                                  const std::vector<measure::FeatureValue>& named, double rate) {
  std::vector<MeasureReach> reach;
  CompareOptions options;
  options.false_flag_rate = rate;
  const auto limits = [&](auto&& u_of) {
    auto values = named;
    for (auto& v : values) v.u = u_of(refset::StatisticsOf(set, v.key).u);
    return TestFeatures(set, values, options);
  };
  const auto good = limits([](const auto& u) { return Quantile(u, 0.25); });
  const auto usual = limits([](const auto& u) { return Quantile(u, 0.5); });
  const auto poor = limits([](const auto& u) { return 2 * Quantile(u, 1); });
  std::vector<std::vector<std::size_t>> members;
  for (std::size_t i = 0; i < named.size(); ++i) {
    std::size_t r = 0;
    while (r < reach.size() && reach[r].measure != named[i].measure) ++r;
    if (r == reach.size()) {
      reach.push_back({named[i].measure, named[i].unit, 0, 0, 0, 0, "", 0});
      members.emplace_back();
    }
    members[r].push_back(i);
  }
  for (std::size_t r = 0; r < reach.size(); ++r) {
    const auto median = [&](const std::vector<Feature>& of) {
      std::vector<double> all;
      for (const std::size_t i : members[r]) all.push_back(of[i].detection_limit);
      return Quantile(all, 0.5);
    };
    reach[r].features = static_cast<int>(members[r].size());
    reach[r].good = median(good);
    reach[r].usual = median(usual);
    reach[r].poor = median(poor);
    for (const std::size_t i : members[r]) {
      if (usual[i].detection_limit <= reach[r].worst) continue;
      reach[r].worst = usual[i].detection_limit;
      reach[r].worst_label = usual[i].label;
    }
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
        "With three items two dies cannot be told from one; a fourth item would do it.");
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
  say(not_kept, "the photo is not kept in the library: outlines cannot be made anew without it.");
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
  const auto means = MeansOf(set);
  check.reach = ReachOf(set, means, false_flag_rate);
  check.features = FeaturesOfSet(set, means);
  AddNeeds(set, check);
  return check;
}

}  // namespace debossier::compare
