// An output folder that one run owns: marked as ours, locked, cleaned of what a kill left.
//
// The mark is `batch.json`, format "debossier-batch", version 1. Without it a folder that holds
// anything is refused, so that no one's files are written over.
#pragma once

#include <filesystem>

#include "base/result.h"

namespace debossier::batch {

/// Holds the lock during its life; the system lets go of it when the process ends, however it ends.
class FolderLock {
 public:
  FolderLock() = default;
  explicit FolderLock(int fd) : fd_(fd) {}
  FolderLock(FolderLock&& other) noexcept : fd_(other.fd_) { other.fd_ = -1; }
  FolderLock& operator=(FolderLock&&) = delete;
  ~FolderLock();

 private:
  int fd_ = -1;
};

/// Makes or opens the folder. Refuses with kOutputExists, kNewerFormat or kOutputNotWritable.
Result<FolderLock> TakeFolder(const std::filesystem::path& folder);

}  // namespace debossier::batch
