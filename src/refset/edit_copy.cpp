#include "refset/edit_copy.h"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <system_error>
#include <vector>

#include "base/files.h"
#include "outline/ufo.h"
#include "refset/lock.h"
#include "refset/outlines.h"
#include "refset/write_set.h"

namespace debossier::refset {

namespace fs = std::filesystem;

namespace {

bool IsThere(const fs::path& path) {
  std::error_code error;
  return fs::symlink_status(path, error).type() != fs::file_type::not_found;
}

enum class Holds { kCurrent, kEarlier, kEdits };

Holds WhatIsIn(const fs::path& copy, const Library& library, const RefSet& set) {
  const auto font = outline::LoadUfo(copy);
  if (!font) return Holds::kEdits;
  const std::string digest = Digest(*font);
  if (digest == set.outlines_sha256) return Holds::kCurrent;
  const auto history = History(library, set.id);
  if (!history) return Holds::kEdits;
  const bool earlier = std::any_of(history->begin(), history->end(), [&](const RefSet& revision) {
    return revision.outlines_sha256 == digest;
  });
  return earlier ? Holds::kEarlier : Holds::kEdits;
}

/// Earlier versions had one copy a revision; its edits, if any, come along.
void MoveOldCopy(const Library& library, const RefSet& set) {
  const fs::path old = library.glyphs() / set.outlines_name;
  if (IsThere(old) && !IsThere(EditCopy(library, set.id))) {
    [[maybe_unused]] const int moved = MoveNew(old, EditCopy(library, set.id));
  }
}

}  // namespace

fs::path EditCopy(const Library& library, const std::string& id) {
  return library.glyphs() / (id + ".ufo");
}

bool HasEdits(const Library& library, const RefSet& set) {
  if (set.outlines_sha256.empty())
    return false;  // version 1: what lies in glyphs/ is the set's own
  MoveOldCopy(library, set);
  const fs::path copy = EditCopy(library, set.id);
  return IsThere(copy) && WhatIsIn(copy, library, set) == Holds::kEdits;
}

void OfferOutlines(const Library& library, const RefSet& set, bool replace_edits) {
  if (set.outlines_sha256.empty()) return;
  std::error_code ignored;
  fs::create_directories(library.glyphs(), ignored);
  const FolderLock lock(library.glyphs());
  if (lock.held()) SweepFolder(library.glyphs(), "ufo.");
  MoveOldCopy(library, set);
  const fs::path copy = EditCopy(library, set.id);
  if (IsThere(copy)) {
    const Holds holds = WhatIsIn(copy, library, set);
    if (holds == Holds::kCurrent || (holds == Holds::kEdits && !replace_edits)) return;
    const fs::path aside = library.glyphs() / fmt::format(".ufo.old.{}.part", ::getpid());
    fs::rename(copy, aside, ignored);
    fs::remove_all(aside, ignored);
  }
  const auto own = outline::LoadUfo(library.set(set.id) / "outlines" / set.outlines_name);
  if (!own) return;
  [[maybe_unused]] const auto offered = outline::WriteUfo(*own, copy);
}

}  // namespace debossier::refset
