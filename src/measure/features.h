// The measured numbers of one photo as a flat list of named features: what sets keep per item and
// what comparison tests.
//
// Lengths in cap heights of the photo's wordmark.
// Not for: cases, frames' kinds and texts, which are compared as categories.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "measure/measurements.h"
#include "outline/lettering.h"

namespace debossier::measure {

/// What kind of quantity a feature is; the natural spread is pooled over a kind.
enum class FeatureKind {
  kGap,         ///< Gap of neighbouring letters.
  kHeight,      ///< Height of a letter.
  kWidth,       ///< Width of a letter.
  kBase,        ///< Lower edge of a letter against its line.
  kLineSize,    ///< Height of a line over the wordmark's.
  kLineOffset,  ///< Place of a line against the wordmark.
  kTracking,
  kMarkGap,
  kMarkSize,
  kMarkRise,
  kFrame,  ///< Axes, rule and clearance of the frame.
  kShape,  ///< Letterform: smoothed distance of the outline. One-sided.
};

struct FeatureValue {
  std::string key;  ///< Stable: "gap wordmark.0 wordmark.1".
  FeatureKind kind = FeatureKind::kGap;
  std::string measure;  ///< "gap", "height", ...
  std::vector<std::string> elements;
  std::string label;  ///< For people.
  std::string unit = "cap heights";
  double value = 0;
  double u = 0;
};

/// What people call each element, by id: "E" where its line has one, "E (2nd)" where it has more.
std::map<std::string, std::string> NamesOf(const outline::Lettering& reference);

/// Every feature that could be measured, in a fixed order.
std::vector<FeatureValue> FeaturesOf(const outline::Lettering& reference,
                                     const Measurements& measured);

/// The same list from values that were kept by their keys; keys that name no feature of this
/// lettering are left out.
std::vector<FeatureValue> FeaturesOf(const outline::Lettering& reference,
                                     const std::map<std::string, Measured>& by_key);

}  // namespace debossier::measure
