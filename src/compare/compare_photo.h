// Compares one photo with one reference set.
//
// Loads nothing and writes nothing; pixels in, comparison out.
// Frame and units: as in comparison.h.
// Not for: photos whose lettering cannot be placed; those are refused by fit::PlaceLettering.
#pragma once

#include "base/result.h"
#include "card/scale.h"
#include "compare/comparison.h"
#include "fit/place_lettering.h"
#include "image/photo.h"
#include "refset/refset.h"

namespace debossier::compare {

struct CompareOptions {
  double false_flag_rate = 0.005;   ///< Over the whole photo; 0.0001 to 0.2.
  double undecidable_limit = 0.15;  ///< A feature whose detection limit is worse is not told.
  bool free_aspect = false;         ///< The photo's scale of x and y cannot be trusted.
  fit::PlaceOptions place;
  card::ScaleOptions scale;  ///< Without it nothing is looked for.

  /// Refuses with kUsage, naming the option and its range.
  Result<std::monostate> Check() const;
};

/// Places, measures and compares. Refuses as fit::PlaceLettering; `where` is the photo's file.
Result<Comparison> ComparePhoto(const image::Photo& photo, const refset::RefSet& set,
                                const CompareOptions& options = {});

/// Natural spread assumed for a kind of feature before any item speaks: standard deviation in cap
/// heights and its degrees of freedom. From the design's figures on real bindings (letters stand
/// within 0.46 % of cap height of their place in the median, 1.6 % at the 95th percentile).
struct SpreadPrior {
  double deviation = 0.005;
  double df = 6;
};
SpreadPrior PriorOf(measure::FeatureKind kind);

/// Weights of the features for Holm's procedure, which sum to 1.
std::vector<double> WeightsOf(const std::vector<measure::FeatureValue>& values);

/// Tests every numeric feature against the set; fills p-values, limits and `departs`.
std::vector<Feature> TestFeatures(const refset::RefSet& set,
                                  const std::vector<measure::FeatureValue>& values,
                                  const CompareOptions& options);

/// One large departure and many small ones, together.
struct JointTest {
  double p_largest = 1;  ///< Smallest Holm-adjusted p-value.
  double p_many = 1;     ///< Of the sum of squares.
  double p = 1;          ///< Of both together (Cauchy combination).
};
/// `items`: how many verified items are behind the set.
JointTest TestTogether(const std::vector<Feature>& features,
                       const std::vector<measure::FeatureValue>& values, std::size_t items);

/// Categories: cases, frame, letters that are something else, and what could not be told.
struct CategoryOutcome {
  std::vector<Reason> departures;
  std::vector<Reason> untold;
};
CategoryOutcome CompareCategories(const refset::RefSet& set, const measure::Measurements& measured,
                                  const fit::PlaceReport& placed);

/// The sentence for a numeric feature that departs; with the length in millimetres where `scale`
/// knows it.
std::string DepartureInWords(const Feature& feature, const refset::RefSet& set,
                             const std::optional<card::Scale>& scale = std::nullopt);

/// The feature as a reason, with its sentence.
Reason ReasonOf(const Feature& feature, const refset::RefSet& set,
                const std::optional<card::Scale>& scale = std::nullopt);

}  // namespace debossier::compare
