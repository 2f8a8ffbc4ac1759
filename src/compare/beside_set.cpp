// Measured values beside what the set says of each.
#include <algorithm>
#include <cmath>

#include "compare/statistics.h"
#include "compare/tell.h"
#include "outline/letter_class.h"

namespace debossier::compare {

using measure::FeatureKind;

namespace {

/// Natural spread of a kind of feature before any item speaks, and its degrees of freedom: design
/// figures of real bindings.
struct SpreadPrior {
  double deviation = 0.005;
  double df = 6;
};
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
      return outline::NominalHeight(*line);
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

/// What the set's outlines do not know of the die, which no photo compared with them can tell: an
/// edge to a part of the blur of the items' photos. By kind: how many edges a length has.
double OfOutlines(const refset::RefSet& set, FeatureKind kind) {
  constexpr double kOfBlur = 0.36;  // from simulated dies; debossier-accuracy measures it again
  double blur = 0;
  for (const auto& item : set.items) {
    blur += item.cap_height_px > 0 ? item.blur_px / item.cap_height_px : 0;
  }
  const double edge =
      set.items.empty() ? 0 : kOfBlur * blur / static_cast<double>(set.items.size());
  switch (kind) {
    case FeatureKind::kShape:
    case FeatureKind::kTracking:
    case FeatureKind::kLineOffset:
      return 0;
    case FeatureKind::kBase:
    case FeatureKind::kMarkRise:
      return edge;
    case FeatureKind::kGap:
    case FeatureKind::kHeight:
    case FeatureKind::kWidth:
    case FeatureKind::kLineSize:
    case FeatureKind::kMarkGap:
    case FeatureKind::kMarkSize:
    case FeatureKind::kFrame:
      break;
  }
  return std::sqrt(2.0) * edge;
}

}  // namespace

std::vector<Feature> BesideSet(const refset::RefSet& set,
                               const std::vector<measure::FeatureValue>& values) {
  std::vector<Feature> features;
  for (const auto& v : values) {
    // Lines' sentences measure it without the pull of the line's own fit.
    if (v.kind == FeatureKind::kTracking) continue;
    const auto s = refset::StatisticsOf(set, v.key);
    const SpreadPrior prior = PriorOf(v.kind);
    const bool shape = v.kind == FeatureKind::kShape;
    Feature f;
    f.measure = v.measure;
    f.elements = v.elements;
    f.label = v.label;
    f.unit = v.unit;
    f.value = v.value;
    f.items = s.values;
    double of_mean = 0;
    if (shape || s.count == 0) {
      const auto shrunk = Shrink(prior.deviation * prior.deviation, prior.df,
                                 s.deviation * s.deviation, std::max(0, s.count - 1));
      f.expected = shape ? ExpectedShape(s) : FromOutlines(set, v);
      f.spread = std::sqrt(shrunk.variance);
      of_mean = shrunk.variance / std::max(1, s.count);  // a font's outline counts as one item
    } else {
      const Predicted predicted = Predict(s, prior);
      f.expected = predicted.mean;
      f.spread = std::sqrt(predicted.spread.variance);
      of_mean = predicted.mean_variance;
    }
    f.z = (f.value - f.expected) / std::sqrt(f.spread * f.spread + of_mean + v.u * v.u);
    f.u = std::hypot(v.u, OfOutlines(set, v.kind));
    features.push_back(std::move(f));
  }
  return features;
}

}  // namespace debossier::compare
