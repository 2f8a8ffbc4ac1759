// One curator at a time: a lock on one set, held while a change is made.
//
// A file lock on `refsets/<id>/lock`, which goes with the process.
// Not for: readers. They need none, because a change becomes visible in one rename.
#pragma once

#include <filesystem>
#include <string>
#include <utility>

#include "base/file_lock.h"
#include "base/result.h"
#include "refset/refset.h"

namespace debossier::refset {

class SetLock {
 public:
  /// Refuses with kSetBusy, saying who holds it, or kOutputNotWritable. The set must exist.
  static Result<SetLock> Take(const Library& library, const std::string& id, const std::string& by);

 private:
  explicit SetLock(FileLock lock) : lock_(std::move(lock)) {}
  FileLock lock_;
};

/// Held for the moment in which something new appears in a folder that many sets share. Waits a few
/// seconds; without it one may write, but not sweep up.
class FolderLock {
 public:
  explicit FolderLock(const std::filesystem::path& folder);
  bool held() const { return held_; }

 private:
  FileLock lock_;
  bool held_ = false;
};

}  // namespace debossier::refset
