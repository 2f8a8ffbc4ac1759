// An output folder that one run owns: marked as ours, locked, cleaned of what a kill left.
//
// The mark is `batch.json`, format "debossier-batch", version 1. Without it a folder that holds
// anything is refused, so that no one's files are written over.
#pragma once

#include <filesystem>

#include "base/file_lock.h"
#include "base/result.h"

namespace debossier::batch {

/// Makes or opens the folder, which is this run's as long as the lock lives. Refuses with
/// kOutputExists, kNewerFormat or kOutputNotWritable.
Result<FileLock> TakeFolder(const std::filesystem::path& folder);

}  // namespace debossier::batch
