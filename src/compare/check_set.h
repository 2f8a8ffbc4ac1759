// Checks a reference set against itself: an item that does not belong, two dies in one set, and
// what the set can and cannot show.
//
// Works on the numbers that the set keeps of its items; photos are not needed. Every probability
// counts how many items or divisions were tried. Lengths in cap heights.
// Not for: files and hashes (refset), questioned photos (compare_photo.h).
#pragma once

#include <string>
#include <vector>

#include "compare/comparison.h"
#include "refset/refset.h"

namespace debossier::compare {

/// One item against all others, by the sentences of a comparison.
struct ItemCheck {
  std::string item;
  double strength = 0;  ///< Of the strongest sentence, over the level that counts all items.
  double furthest_z = 0;
  std::string furthest;         ///< What that sentence is about: "gap A–V".
  bool belongs = true;          ///< No sentence is said.
  std::vector<Reason> reasons;  ///< Of an item that does not belong, strongest first.
};

/// What parts two groups of items.
struct Separation {
  std::string measure;
  std::string unit;
  double difference = 0;  ///< Second group less first.
  std::string text;       ///< The sentence: the second group against the first.
};

/// The division of the items that parts them most.
struct Division {
  bool tried = false;   ///< Four items are the fewest that two pairs can be made of.
  double strength = 0;  ///< Over the level that counts all divisions into groups of two and more.
  bool two_dies = false;
  std::vector<std::string> first, second;  ///< Ids of items.
  std::vector<Separation> separations;     ///< Strongest first.
};

/// Detection limits of a measure: the median over its features for photos of three qualities, and
/// the feature that is told worst on a usual one.
struct MeasureReach {
  std::string measure;
  std::string unit;
  int features = 0;
  double good = 0;   ///< Uncertainty: of the better quarter of the items' photos.
  double usual = 0;  ///< Their median.
  double poor = 0;   ///< Twice their largest: a photo of half the size.
  std::string worst_label;
  double worst = 0;
};

/// What the items show of one feature.
struct SetFeature {
  std::string label;
  std::string unit;
  double mean = 0;
  double deviation = 0;       ///< Standard deviation of the items' values; 0 for one item.
  double spread = 0;          ///< Between items, as comparisons use it.
  std::vector<double> items;  ///< Their values.
};

struct SetCheck {
  std::string refset_id;
  int refset_revision = 0;
  double false_flag_rate = 0.005;  ///< Over all items, and over all divisions.
  std::vector<ItemCheck> items;    ///< In the set's order; empty below three items.
  Division division;
  std::vector<MeasureReach> reach;
  std::vector<SetFeature> features;  ///< By kind.
  std::vector<std::string> needs;    ///< What would make the set say more, in words.
  bool is_consistent() const;
};

/// Refuses with kUsage where the rate is out of range.
Result<SetCheck> CheckSet(const refset::RefSet& set, double false_flag_rate = 0.005);

}  // namespace debossier::compare
