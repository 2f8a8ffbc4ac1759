// Writing revisions, each whole.
//
// A change becomes the current revision in one rename, of `set.json`. All that it names (photos,
// outlines, the revision's own file) is on the disk before. A process killed earlier leaves files
// that no revision names; the next change removes or replaces them.
// Not for: deciding what a revision holds; curate.h does that.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "refset/lock.h"
#include "refset/refset.h"

namespace debossier::refset {

/// Writes `next` over the current revision. Its revision number, its previous revision and the name
/// and digest of its outlines are filled in here. `new_outlines`: the lettering was changed, so its
/// outlines are written; else those that `next` names are kept. The lock shows that nobody else is
/// at it. Refuses with kOutputNotWritable and kSetUnreadable; the old revision stands then.
Result<RefSet> WriteNextRevision(const SetLock& lock, const Library& library, RefSet next,
                                 bool new_outlines, const std::vector<KeptPhoto>& photos);

/// Removes what a killed process left half-written in a folder, named ".<start>...part". Only under
/// the folder's lock.
void SweepFolder(const std::filesystem::path& folder, const std::string& start);

}  // namespace debossier::refset
