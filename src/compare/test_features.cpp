#include <algorithm>
#include <cmath>

#include "compare/compare_photo.h"
#include "compare/statistics.h"

namespace debossier::compare {

using measure::FeatureKind;

SpreadPrior PriorOf(FeatureKind kind) {
  switch (kind) {
    case FeatureKind::kGap:
      return {0.005, 6};
    case FeatureKind::kHeight:
      return {0.005, 6};
    case FeatureKind::kWidth:
      return {0.006, 6};
    case FeatureKind::kBase:
      return {0.005, 6};
    case FeatureKind::kLineSize:
      return {0.005, 6};
    case FeatureKind::kLineOffset:
      return {0.02, 6};
    case FeatureKind::kTracking:
      return {0.002, 6};
    case FeatureKind::kMarkGap:
      return {0.005, 6};
    case FeatureKind::kMarkSize:
      return {0.006, 6};
    case FeatureKind::kMarkRise:
      return {0.005, 6};
    case FeatureKind::kFrame:
      return {0.015, 6};
    case FeatureKind::kShape:
      return {0.0045, 12};
  }
  return {};
}

namespace {

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
    const auto shrunk = Shrink(prior.deviation * prior.deviation, prior.df,
                               s.deviation * s.deviation, std::max(0, s.count - 1));
    f.spread = std::sqrt(shrunk.variance);
    f.degrees_of_freedom = shrunk.df;
    // Predictive: the mean of n items is itself uncertain; a font's outline counts as one item.
    const double n = std::max(1, s.count);
    const double item_u = s.count == 1 ? s.mean_u : 0;
    const double deviation = std::sqrt(shrunk.variance * (1 + 1 / n) + f.u * f.u + item_u * item_u);
    f.z = (f.value - f.expected) / deviation;
    f.p = shape ? StudentUpperP(f.z, shrunk.df) : StudentTwoSidedP(f.z, shrunk.df);
    f.detection_limit = deviation * StudentQuantile(shape ? 2 * level : level, shrunk.df);
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
