#include "base/file_lock.h"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>

namespace debossier {

FileLock::FileLock(const std::filesystem::path& path, int flags)
    : fd_(::open(path.c_str(), flags | O_CLOEXEC, 0644)), error_(fd_ < 0 ? errno : 0) {}

FileLock FileLock::OnFile(const std::filesystem::path& path) {
  return FileLock(path, O_RDWR | O_CREAT | O_NOFOLLOW);
}

FileLock FileLock::OnFolder(const std::filesystem::path& folder) {
  return FileLock(folder, O_RDONLY | O_DIRECTORY);
}

bool FileLock::Try() {
  int status = -1;
  do {
    status = ::flock(fd_, LOCK_EX | LOCK_NB);
  } while (status != 0 && errno == EINTR);
  error_ = status == 0 ? 0 : errno;
  return status == 0;
}

FileLock::~FileLock() {
  if (fd_ >= 0) ::close(fd_);
}

}  // namespace debossier
