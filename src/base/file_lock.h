// The operating system's own lock on a file or folder (flock(2)): it goes when the process ends,
// however it ends, so none is ever left behind.
#pragma once

#include <filesystem>

namespace debossier {

class FileLock {
 public:
  /// Opens a file, made where it is missing; a link is not followed. error() says what failed.
  static FileLock OnFile(const std::filesystem::path& path);
  static FileLock OnFolder(const std::filesystem::path& folder);

  /// Takes the lock where nobody else has it; does not wait. EWOULDBLOCK in error() where somebody
  /// has.
  bool Try();

  int error() const { return error_; }  ///< errno of what failed last; 0.
  int fd() const { return fd_; }        ///< -1 where nothing is open.

  FileLock(FileLock&& other) noexcept : fd_(other.fd_), error_(other.error_) { other.fd_ = -1; }
  FileLock& operator=(FileLock&&) = delete;
  ~FileLock();

 private:
  FileLock(const std::filesystem::path& path, int flags);
  int fd_ = -1;
  int error_ = 0;
};

}  // namespace debossier
