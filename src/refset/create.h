// Building a reference set from photos of verified items, or from a font.
//
// Frame and units: as in refset.h.
// Not for: changing a set that exists.
#pragma once

#include <string>
#include <vector>

#include "image/photo.h"
#include "refset/refset.h"
#include "trace/consensus.h"
#include "typeset/font.h"

namespace debossier::refset {

struct CreateOptions {
  std::string id;
  Labels labels;
  bool simulated = false;
  Asks asks;
  std::vector<std::string> bases;  ///< Basis of verification: one a photo, or one for all, or none.
  trace::ConsensusOptions consensus;
  bool allow_doubtful = false;  ///< Make the set though letters look like others or like none.
};

/// What creation yields beside the set, for the person who made it.
struct Created {
  RefSet set;
  std::vector<Warning> warnings;
};

/// What a set keeps of an item's photo: quality, place, features and poses.
void KeepMeasured(const outline::Lettering& lettering, const measure::Measurements& measured,
                  Item& item);

/// Refuses, with kItemsDoNotAgree and the photo's name, where two items are one: by the photos'
/// hashes or by the grain of their leather.
Result<std::monostate> CheckItemsDiffer(const std::vector<Item>& items);

/// From 1 or more photos. Refuses as trace::BuildConsensus, naming the photo.
Result<Created> CreateFromPhotos(const std::vector<image::Photo>& photos,
                                 const reading::TextSpec& text, const CreateOptions& options);

/// From a font: no items, so no natural spread of its own.
Result<Created> CreateFromFont(const typeset::Font& font, const typeset::Font* origin_font,
                               const std::vector<typeset::LineSpec>& lines,
                               const typeset::MarkSpec& mark, const outline::Frame& frame,
                               const CreateOptions& options);

}  // namespace debossier::refset
