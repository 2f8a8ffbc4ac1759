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
  double false_flag_rate = 0.005;  ///< Over the whole photo; 0.0001 to 0.2.
  bool free_aspect = false;        ///< The photo's scale of x and y cannot be trusted.
  fit::PlaceOptions place;
  card::ScaleOptions scale;  ///< Without it nothing is looked for.

  /// Refuses with kUsage, naming the option and its range.
  Result<std::monostate> Check() const;
};

/// Places, measures and compares. Refuses as fit::PlaceLettering; `where` is the photo's file.
Result<Comparison> ComparePhoto(const image::Photo& photo, const refset::RefSet& set,
                                const CompareOptions& options = {});

}  // namespace debossier::compare
