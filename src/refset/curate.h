// The curator's changes to a set: add, retire, undo, adopt.
//
// Each change takes the set's lock, reads the current revision and writes the next one; a refusal
// leaves the old one. Who and when come from the caller; they are never guessed.
// Outlines are the mean of the items' photos. A change of items makes them anew, which needs every
// photo: those kept in the library are read from there, others are asked for by name and hash.
// `keep_outlines` leaves the outlines as they are: then only the numbers of the items change.
// Not for: new sets (create.h) and judging whether an item belongs (compare/check_set.h).
#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "image/photo.h"
#include "refset/refset.h"

namespace debossier::refset {

/// Who changes a set, when and why. `by` and `on` are needed for every change.
struct Entry {
  std::string by;
  std::string on;  ///< ISO 8601 date: 2026-05-01.
  std::string reason;

  /// Refuses with kUsage what is missing or no date.
  Result<std::monostate> Check(bool needs_reason = false) const;
};

struct ChangeOptions {
  bool keep_outlines = false;
  bool drop_edits = false;           ///< Outlines edited by hand may be replaced.
  std::vector<image::Photo> photos;  ///< Of items whose photos the library does not keep.
  /// Asked of a finished revision with new items before it is written; a refusal leaves the old
  /// one.
  std::function<Result<std::monostate>(const RefSet&)> accept;
};

/// A new revision, with notes for the curator.
struct Changed {
  RefSet set;
  std::vector<Warning> warnings;
};

/// Adds items. Refuses with kUsage where a photo is in the set already.
struct NewItem {
  image::Photo photo;
  std::string basis;
};
struct AddOptions : ChangeOptions {
  std::vector<NewItem> items;
  bool keep_photos = true;
};
Result<Changed> AddItems(const Library& library, const std::string& id, const AddOptions& options,
                         const Entry& entry);

/// Takes an item out; a reason is needed. The last item of a set cannot go.
Result<Changed> RetireItem(const Library& library, const std::string& id,
                           const std::string& item_id, const ChangeOptions& options,
                           const Entry& entry);

/// A new revision equal to revision `to` (0: the one before the current). Nothing is lost.
Result<Changed> Undo(const Library& library, const std::string& id, int to, const Entry& entry,
                     const ChangeOptions& options = {});

/// Takes outlines edited in a font editor: `ufo`, or where empty the copy in `glyphs/` of the
/// current revision. Checked: one glyph an element, closed contours, standard directions, nothing
/// moved or resized beyond what an edit does. Items are measured again against them.
Result<Changed> AdoptOutlines(const Library& library, const std::string& id,
                              const std::filesystem::path& ufo, const ChangeOptions& options,
                              const Entry& entry);

/// The name under which a photo is kept: "<sha256>.jpg".
std::string KeptName(const image::Photo& photo);

}  // namespace debossier::refset
