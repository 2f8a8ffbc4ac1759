#include "refset/lock.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <system_error>
#include <thread>

namespace debossier::refset {

namespace {

/// Who holds the lock, for the message alone; nothing is decided by it.
std::string HolderOf(int fd) {
  std::array<char, 200> buffer{};
  const ssize_t got = ::pread(fd, buffer.data(), buffer.size(), 0);
  std::string name(buffer.data(), got > 0 ? static_cast<std::size_t>(got) : 0);
  name.resize(std::min(name.size(), name.find('\n')));
  for (char& c : name) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = '?';
  }
  return name.empty() ? "another curator" : name;
}

}  // namespace

Result<SetLock> SetLock::Take(const Library& library, const std::string& id,
                              const std::string& by) {
  const auto path = library.set(id) / "lock";
  const int fd = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0644);
  if (fd < 0) {
    const auto why = std::error_code(errno, std::generic_category()).message();
    return Refuse(ErrorCode::kOutputNotWritable, "refset", path.string(),
                  "cannot be opened: " + why, "change sets in a library that you may write to");
  }
  SetLock lock(fd);
  int status = 0;
  do {
    status = ::flock(fd, LOCK_EX | LOCK_NB);
  } while (status != 0 && errno == EINTR);
  if (status != 0 && errno == EWOULDBLOCK) {
    return Refuse(ErrorCode::kSetBusy, "refset", library.set(id).string(),
                  fmt::format("is being changed by {} at this moment; nothing of yours was changed",
                              HolderOf(fd)),
                  "try again when that change is done, and look at the set first");
  }
  if (status != 0) {
    const auto why = std::error_code(errno, std::generic_category()).message();
    return Refuse(ErrorCode::kOutputNotWritable, "refset", path.string(),
                  "cannot be locked: " + why, "keep the library on a file system that has locks");
  }
  const std::string line = fmt::format("{} (process {})\n", by, ::getpid());
  if (::ftruncate(fd, 0) == 0) {
    [[maybe_unused]] const ssize_t ignored = ::pwrite(fd, line.data(), line.size(), 0);
  }
  return lock;
}

SetLock::~SetLock() {
  if (fd_ >= 0) ::close(fd_);
}

FolderLock::FolderLock(const std::filesystem::path& folder)
    : fd_(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)) {
  using std::chrono::milliseconds;
  constexpr int kTries = 250;
  for (int i = 0; fd_ >= 0 && !held_ && i < kTries; ++i) {
    if (i > 0) std::this_thread::sleep_for(milliseconds(20));
    held_ = ::flock(fd_, LOCK_EX | LOCK_NB) == 0;
    if (!held_ && errno != EWOULDBLOCK && errno != EINTR) return;
  }
}

FolderLock::~FolderLock() {
  if (fd_ >= 0) ::close(fd_);
}

}  // namespace debossier::refset
