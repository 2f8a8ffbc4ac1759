#include "refset/lock.h"

#include <fmt/format.h>
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
  const auto refused = [&](const char* what, int error, const char* hint) {
    return Refuse(ErrorCode::kOutputNotWritable, "refset", path.string(),
                  what + std::error_code(error, std::generic_category()).message(), hint);
  };
  SetLock lock(FileLock::OnFile(path));
  const int fd = lock.lock_.fd();
  if (fd < 0) {
    return refused("cannot be opened: ", lock.lock_.error(),
                   "change sets in a library that you may write to");
  }
  if (!lock.lock_.Try()) {
    if (lock.lock_.error() != EWOULDBLOCK) {
      return refused("cannot be locked: ", lock.lock_.error(),
                     "keep the library on a file system that has locks");
    }
    return Refuse(ErrorCode::kSetBusy, "refset", library.set(id).string(),
                  fmt::format("is being changed by {} at this moment; nothing of yours was changed",
                              HolderOf(fd)),
                  "try again when that change is done, and look at the set first");
  }
  const std::string line = fmt::format("{} (process {})\n", by, ::getpid());
  if (::ftruncate(fd, 0) == 0) {
    [[maybe_unused]] const ssize_t ignored = ::pwrite(fd, line.data(), line.size(), 0);
  }
  return lock;
}

FolderLock::FolderLock(const std::filesystem::path& folder) : lock_(FileLock::OnFolder(folder)) {
  using std::chrono::milliseconds;
  constexpr int kTries = 250;
  for (int i = 0; lock_.fd() >= 0 && !held_ && i < kTries; ++i) {
    if (i > 0) std::this_thread::sleep_for(milliseconds(20));
    held_ = lock_.Try();
    if (!held_ && lock_.error() != EWOULDBLOCK) return;
  }
}

}  // namespace debossier::refset
