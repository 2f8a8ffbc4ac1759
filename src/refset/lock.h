// One curator at a time: a lock on one set, held while a change is made.
//
// The operating system's own file lock (flock) on `refsets/<id>/lock`: it goes when the process
// ends, however it ends, so none is ever left behind.
// Not for: readers. They need none, because a change becomes visible in one rename.
#pragma once

#include <filesystem>
#include <string>

#include "base/result.h"
#include "refset/refset.h"

namespace debossier::refset {

class SetLock {
 public:
  /// Refuses with kSetBusy, saying who holds it, or kOutputNotWritable. The set must exist.
  static Result<SetLock> Take(const Library& library, const std::string& id, const std::string& by);

  SetLock(SetLock&& other) noexcept : fd_(other.fd_) { other.fd_ = -1; }
  SetLock& operator=(SetLock&&) = delete;
  SetLock(const SetLock&) = delete;
  SetLock& operator=(const SetLock&) = delete;
  ~SetLock();

 private:
  explicit SetLock(int fd) : fd_(fd) {}
  int fd_ = -1;
};

/// Held for the moment in which something new appears in a folder that many sets share. Waits a few
/// seconds; without it one may write, but not sweep up.
class FolderLock {
 public:
  explicit FolderLock(const std::filesystem::path& folder);
  bool held() const { return held_; }
  FolderLock(const FolderLock&) = delete;
  FolderLock& operator=(const FolderLock&) = delete;
  ~FolderLock();

 private:
  int fd_ = -1;
  bool held_ = false;
};

}  // namespace debossier::refset
