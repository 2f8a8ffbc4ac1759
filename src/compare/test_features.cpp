#include <algorithm>
#include <cmath>
#include <map>

#include "compare/compare_photo.h"
#include "compare/statistics.h"

namespace debossier::compare {

using measure::FeatureKind;

SpreadPrior PriorOf(FeatureKind kind) {
  switch (kind) {
    case FeatureKind::kGap:
      return {0.0025, 4};
    case FeatureKind::kHeight:
      return {0.0025, 4};
    case FeatureKind::kWidth:
      return {0.003, 4};
    case FeatureKind::kBase:
      return {0.0025, 4};
    case FeatureKind::kLineSize:
      return {0.0025, 4};
    case FeatureKind::kLineOffset:
      return {0.01, 4};
    case FeatureKind::kTracking:
      return {0.0012, 4};
    case FeatureKind::kMarkGap:
      return {0.003, 4};
    case FeatureKind::kMarkSize:
      return {0.003, 4};
    case FeatureKind::kMarkRise:
      return {0.003, 4};
    case FeatureKind::kFrame:
      return {0.008, 4};
    case FeatureKind::kShape:
      return {0.0045, 12};
  }
  return {};
}

namespace {

/// Of a photo's own standard uncertainty: about as many independent stretches as a letter has.
constexpr double kMeasuredDf = 8;

/// What a letterform distance is expected to be. The items helped to draw the outline, so their own
/// distances are too small by about sqrt((n - 1) / (n + 1)); one item says nothing of it.
double ExpectedShape(const refset::FeatureStatistics& s) {
  constexpr double kUsual = 0.012;
  if (s.count < 2) return kUsual;
  const double n = s.count;
  return std::max(0.3 * kUsual, s.mean * std::sqrt((n + 1) / (n - 1)));
}

/// Where the outlines themselves say what to expect: sets from a font, features no item has.
double FromOutlines(const refset::RefSet& set, const measure::FeatureValue& value) {
  const auto box_of = [&](const std::string& id) {
    for (const auto& e : set.lettering.elements) {
      if (e.id == id) return outline::Bounds(e.outline);
    }
    return outline::Box{};
  };
  const auto line_of = [&](const std::string& id) -> const outline::Line* {
    for (const auto& l : set.lettering.lines) {
      if (l.id == id) return &l;
    }
    return nullptr;
  };
  switch (value.kind) {
    case FeatureKind::kGap:
      return box_of(value.elements[1]).min.x() - box_of(value.elements[0]).max.x();
    case FeatureKind::kHeight:
      return box_of(value.elements[0]).height();
    case FeatureKind::kWidth:
      return box_of(value.elements[0]).width();
    case FeatureKind::kMarkSize:
      return box_of("mark").height();
    case FeatureKind::kMarkRise:
      return box_of("mark").min.y();
    case FeatureKind::kMarkGap: {
      double right = -1e9;
      for (const auto& e : set.lettering.elements) {
        if (e.line_idx == 0 && e.kind == outline::ElementKind::kLetter) {
          right = std::max(right, outline::Bounds(e.outline).max.x());
        }
      }
      return box_of("mark").min.x() - right;
    }
    case FeatureKind::kLineSize: {
      const outline::Line* line = line_of(value.elements[0]);
      if (line == nullptr) return value.value;
      return line->cap_height > 0 ? line->cap_height : line->x_height / 0.7;
    }
    case FeatureKind::kFrame:
      if (value.measure == "frame half width") return set.lettering.frame.radius.x();
      if (value.measure == "frame half height") return set.lettering.frame.radius.y();
      return set.lettering.frame.line_weight;
    case FeatureKind::kBase:
    case FeatureKind::kLineOffset:
    case FeatureKind::kTracking:
      return 0;
    case FeatureKind::kShape:
      break;
  }
  return 0;
}

/// What the items say of a feature: the natural spread between them with what their own photos'
/// uncertainty explains taken out, and the mean that the spread and those uncertainties weigh.
struct Predicted {
  double mean = 0;
  double mean_variance = 0;  ///< Of the mean itself.
  ShrunkVariance spread;     ///< Between items, without measurement.
};

Predicted Predict(const refset::FeatureStatistics& s, const SpreadPrior& prior) {
  Predicted out;
  const double n = s.count;
  double measured = 0;
  for (const double u : s.u) measured += u * u / n;
  const double between = std::max(0.0, s.deviation * s.deviation - measured);
  out.spread = Shrink(prior.deviation * prior.deviation, prior.df, between, n - 1);
  double weight = 0;
  for (std::size_t i = 0; i < s.values.size(); ++i) {
    const double w = 1 / (out.spread.variance + s.u[i] * s.u[i]);
    out.mean += w * s.values[i];
    weight += w;
  }
  out.mean /= weight;
  out.mean_variance = 1 / weight;
  return out;
}

/// Degrees of freedom of a sum of estimated variances (Welch and Satterthwaite).
double SummedDf(double variance, double df, double other_variance, double other_df) {
  const double sum = variance + other_variance;
  if (!(sum > 0)) return df;
  return sum * sum / (variance * variance / df + other_variance * other_variance / other_df);
}

/// Features of the stamp as a whole: few, and what copies get wrong. The many numbers of single
/// letters must not drown them, so either kind gets half of the rate.
bool IsOfTheWhole(FeatureKind kind) {
  switch (kind) {
    case FeatureKind::kLineSize:
    case FeatureKind::kLineOffset:
    case FeatureKind::kTracking:
    case FeatureKind::kMarkGap:
    case FeatureKind::kMarkSize:
    case FeatureKind::kMarkRise:
    case FeatureKind::kFrame:
      return true;
    case FeatureKind::kGap:
    case FeatureKind::kHeight:
    case FeatureKind::kWidth:
    case FeatureKind::kBase:
    case FeatureKind::kShape:
      return false;
  }
  return false;
}

/// How far a group of features strays, as the mean square of their normal scores. On genuine
/// simulated photos (84 of the accuracy program's tuned half, sets of six) it had a mean of 0.62
/// and a standard deviation of 0.31 to 0.36 for gaps, sizes and feet alike: the features of one
/// photo share how well it can be read. A scaled F of that shape carries it, a little wide. With
/// one item how far photos of this maker stray is taken on trust; each further one shows it.
double StrayP(const std::vector<double>& scores, std::size_t items) {
  constexpr double kScale = 0.7;
  constexpr double kDf = 16;
  constexpr double kTrustDf = 6;
  constexpr double kDfAnItem = 8;
  constexpr std::size_t kFewest = 4;
  if (scores.size() < kFewest) return 1;
  double squares = 0;
  for (const double q : scores) squares += q * q;
  const double count = static_cast<double>(scores.size());
  const double known = kTrustDf + kDfAnItem * std::max(0.0, static_cast<double>(items) - 1);
  return FisherUpperP(squares / count / kScale, std::min(kDf, 0.8 * count), std::min(kDf, known));
}

}  // namespace

std::vector<double> WeightsOf(const std::vector<measure::FeatureValue>& values) {
  double whole = 0;
  for (const auto& v : values) whole += IsOfTheWhole(v.kind);
  const double letters = static_cast<double>(values.size()) - whole;
  const double share = whole > 0 && letters > 0 ? 0.5 : 1.0;
  std::vector<double> weights;
  for (const auto& v : values) {
    weights.push_back(share / (IsOfTheWhole(v.kind) ? whole : letters));
  }
  return weights;
}

std::vector<Feature> TestFeatures(const refset::RefSet& set,
                                  const std::vector<measure::FeatureValue>& values,
                                  const CompareOptions& options) {
  std::vector<Feature> features;
  const std::vector<double> weights = WeightsOf(values);
  for (const auto& v : values) {
    const auto s = refset::StatisticsOf(set, v.key);
    SpreadPrior prior = PriorOf(v.kind);
    // Among real bindings of one die a few letters lie far beyond the usual spread; one or two
    // items cannot show whether this maker's are such, so the tail is kept heavy.
    constexpr double kTailDf = 2;
    if (s.count < 3) prior.df = std::min(prior.df, kTailDf);
    const bool shape = v.kind == FeatureKind::kShape;
    Feature f;
    f.measure = v.measure;
    f.elements = v.elements;
    f.label = v.label;
    f.unit = v.unit;
    f.value = v.value;
    f.u = v.u;
    f.items = s.values;
    f.expected = shape ? ExpectedShape(s) : s.count > 0 ? s.mean : FromOutlines(set, v);
    double df = 0;
    double deviation = 0;
    if (shape || s.count == 0) {
      const auto shrunk = Shrink(prior.deviation * prior.deviation, prior.df,
                                 s.deviation * s.deviation, std::max(0, s.count - 1));
      f.spread = std::sqrt(shrunk.variance);
      df = shrunk.df;
      // Predictive: the mean of n items is itself uncertain; a font's outline counts as one item.
      const double n = std::max(1, s.count);
      deviation = std::sqrt(shrunk.variance * (1 + 1 / n) + f.u * f.u);
    } else {
      const Predicted predicted = Predict(s, prior);
      f.expected = predicted.mean;
      f.spread = std::sqrt(predicted.spread.variance);
      const double measured = f.u * f.u + predicted.mean_variance;
      deviation = std::sqrt(predicted.spread.variance + measured);
      df = SummedDf(predicted.spread.variance, predicted.spread.df, measured, kMeasuredDf);
    }
    f.degrees_of_freedom = df;
    f.z = (f.value - f.expected) / deviation;
    f.p = shape ? StudentUpperP(f.z, df) : StudentTwoSidedP(f.z, df);
    // The level that Holm's procedure gives this feature at least.
    const double level = options.false_flag_rate / 2 * weights[features.size()];
    f.detection_limit = deviation * StudentQuantile(shape ? 2 * level : level, df);
    f.decidable = f.detection_limit <= options.undecidable_limit;
    features.push_back(std::move(f));
  }
  std::vector<double> p;
  for (const auto& f : features) p.push_back(f.p);
  const auto adjusted = HolmAdjusted(p, weights);
  for (std::size_t i = 0; i < features.size(); ++i) {
    features[i].p_adjusted = adjusted[i];
    features[i].departs = adjusted[i] < options.false_flag_rate / 2;
  }
  return features;
}

JointTest TestTogether(const std::vector<Feature>& features,
                       const std::vector<measure::FeatureValue>& values, std::size_t items) {
  JointTest joint;
  std::vector<double> all;
  std::map<FeatureKind, std::vector<double>> groups;
  for (std::size_t i = 0; i < features.size(); ++i) {
    joint.p_largest = std::min(joint.p_largest, features[i].p_adjusted);
    // Letterforms are one-sided and cannot balance the others: they stay out of the sums.
    const FeatureKind kind = values[i].kind;
    if (kind == FeatureKind::kShape) continue;
    const double score = NormalScore(features[i].p);
    all.push_back(score);
    if (kind == FeatureKind::kGap || kind == FeatureKind::kBase) groups[kind].push_back(score);
    if (kind == FeatureKind::kHeight || kind == FeatureKind::kWidth) {
      groups[FeatureKind::kHeight].push_back(score);
    }
  }
  std::vector<double> many{StrayP(all, items)};
  for (const auto& [kind, scores] : groups) many.push_back(StrayP(scores, items));
  joint.p_many = CauchyCombined(many);
  joint.p = CauchyCombined({joint.p_largest, joint.p_many});
  return joint;
}

}  // namespace debossier::compare
