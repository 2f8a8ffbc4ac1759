// Several photos of one item, compared with one set, taken together.
//
// Each photo is compared at its share of the item's false-flag rate (Bonferroni), so that the
// chance that any of them accuses a genuine item stays within it. Values of one quantity are
// combined by weighted means (ISO/IEC Guide 98-3:2008, 5.1 and F.1.2): photos' own uncertainties
// are independent, what the set does not know is shared by all photos and does not shrink; where
// photos disagree, the combined uncertainty grows by Birge's ratio (Phys. Rev. 40, 1932).
// A departure that photos should have shown and do not is withdrawn where their missing it is less
// likely than a false flag. Not for: photos of different stamps, which nothing here tells apart.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "compare/comparison.h"
#include "refset/refset.h"

namespace debossier::compare {

/// A photo as people count it, from 1 over all photos of the item.
struct NumberedComparison {
  int number = 0;
  const Comparison* comparison = nullptr;
};

/// A photo that looked for a departure that another one shows, and does not show it.
struct SilentPhoto {
  int number = 0;
  double chance_to_miss = 1;  ///< Of such photos of a lettering that departs like this.
};

/// A departure over all photos.
struct JointReason {
  Reason reason;             ///< As the photo says it that shows it most strongly,
  int shown_best = 0;        ///< and that photo.
  std::vector<int> said_by;  ///< All photos that say it.
  std::vector<SilentPhoto> silent;
  bool withdrawn = false;
};

/// A value over all photos that show it.
struct JointFeature {
  Feature feature;
  std::vector<int> photos;
};

/// What photos say against each other, in a sentence.
struct Contradiction {
  std::vector<int> photos;
  std::string text;
};

struct Together {
  std::string refset_id;
  Finding finding = Finding::kCannotTell;
  std::string summary;  ///< One or two plain sentences.
  /// Strongest first, those withdrawn last; empty where nothing departs in any photo.
  std::vector<JointReason> reasons;
  std::vector<std::string> untold;  ///< What no photo shows, where it cannot be told.
  std::vector<Contradiction> contradictions;
  std::vector<JointFeature> features;
  /// By key: of the photos that tried it the one with the smallest limit.
  std::vector<TriedSentence> sentences;
};

/// `rate`: of the item, of which each comparison had its share. Values come from the photos that
/// read the lettering concerned as the set's.
/// @pre all comparisons are with this revision of the set; there may be none.
Together TakeTogether(const refset::RefSet& set, const std::vector<NumberedComparison>& photos,
                      double rate);

/// One photo of an item and what became of it: a comparison or a refusal.
struct ItemPhoto {
  std::string name;
  std::string refset_id;
  std::string notes;  ///< Given with it, as text.
  std::optional<Comparison> comparison;
  std::optional<Error> refusal;
};

/// The finding on an item over all its photos and sets.
struct ItemComparison {
  Finding finding = Finding::kCannotTell;
  std::string summary;
  double false_flag_rate = 0.005;  ///< Over all photos.
  std::vector<ItemPhoto> photos;   ///< In the order given; numbered from 1.
  std::vector<Together> sets;      ///< In the order in which photos name them.

  /// Each photo's share of the rate; those that were refused had theirs, too.
  double RateOfPhoto() const;
};

/// Departs where it departs from one set; nothing is found where that holds for every set; else it
/// cannot be told. @pre each photo's set is among `sets`, and its comparison was made with it.
ItemComparison JudgeItem(std::vector<ItemPhoto> photos,
                         const std::vector<const refset::RefSet*>& sets, double rate);

/// "photo 2", "photos 1 and 3", "photos 1, 2 and 4".
std::string PhotosInWords(const std::vector<int>& numbers);

}  // namespace debossier::compare
