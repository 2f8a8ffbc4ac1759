// What a change of items or outlines computes: items measured again, outlines made anew.
//
// Frame and units: as in refset.h.
// Not for: writing; write_set.h does that.
#pragma once

#include <filesystem>
#include <vector>

#include "image/photo.h"
#include "refset/create.h"
#include "refset/refset.h"

namespace debossier::refset {

/// An item's photo: kept in the library, or among those given. Refuses with kFileMissing, naming
/// the photo and its hash, and with kSetUnreadable where a kept photo has changed.
Result<image::Photo> PhotoOfItem(const Library& library, const RefSet& set, const Item& item,
                                 const std::vector<image::Photo>& given);

/// Places the set's outlines in the item's photo and fills the item's quality and features.
Result<std::monostate> MeasureItem(const image::Photo& photo, const RefSet& set, Item& item);

/// The set with outlines and numbers made anew from all its items' photos; everything else stays.
Result<Created> RemakeFromPhotos(const Library& library, const RefSet& set,
                                 const std::vector<image::Photo>& given);

/// The set with the outlines of a UFO folder that was edited. Refuses with kSetUnreadable, naming
/// the glyph: glyphs that are no elements or missing, directions that are not the standard ones,
/// elements moved or resized by more than a quarter of a cap height; with kUsage where nothing
/// differs.
Result<RefSet> WithOutlinesOf(const std::filesystem::path& ufo, const RefSet& set);

}  // namespace debossier::refset
