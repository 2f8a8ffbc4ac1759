#include <algorithm>
#include <cmath>

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
  return std::max(0.6 * kUsual, s.mean * std::sqrt((n + 1) / (n - 1)));
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

/// Tests at once: what Holm's procedure will divide the rate by.
double PerTest(const CompareOptions& options, std::size_t tests) {
  return options.false_flag_rate / 2 / static_cast<double>(std::max<std::size_t>(1, tests));
}

}  // namespace

std::vector<Feature> TestFeatures(const refset::RefSet& set,
                                  const std::vector<measure::FeatureValue>& values,
                                  const CompareOptions& options) {
  std::vector<Feature> features;
  const double level = PerTest(options, values.size());
  for (const auto& v : values) {
    const auto s = refset::StatisticsOf(set, v.key);
    const SpreadPrior prior = PriorOf(v.kind);
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
    f.detection_limit = deviation * StudentQuantile(shape ? 2 * level : level, df);
    f.decidable = f.detection_limit <= options.undecidable_limit;
    features.push_back(std::move(f));
  }
  std::vector<double> p;
  for (const auto& f : features) p.push_back(f.p);
  const auto adjusted = HolmAdjusted(p);
  for (std::size_t i = 0; i < features.size(); ++i) {
    features[i].p_adjusted = adjusted[i];
    features[i].departs = adjusted[i] < options.false_flag_rate / 2;
  }
  return features;
}

JointTest TestTogether(const std::vector<Feature>& features,
                       const std::vector<measure::FeatureValue>& values) {
  JointTest joint;
  double squares = 0;
  double count = 0;
  double df = 1e9;
  for (std::size_t i = 0; i < features.size(); ++i) {
    joint.p_largest = std::min(joint.p_largest, features[i].p_adjusted);
    // Letterforms are one-sided and cannot balance the others: they stay out of the sum.
    if (values[i].kind == FeatureKind::kShape) continue;
    squares += features[i].z * features[i].z;
    count += 1;
    df = std::min(df, features[i].degrees_of_freedom);
  }
  if (count > 0) {
    // The features of a photo share how far this item strays, so the spread's own uncertainty is
    // shared too: F instead of a sum of independent t.
    joint.p_many = FisherUpperP(squares / count, 0.7 * count, df);
  }
  joint.p = CauchyCombined({joint.p_largest, joint.p_many});
  return joint;
}

}  // namespace debossier::compare
