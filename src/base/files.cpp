#include "base/files.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <nettle/sha2.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <cerrno>
#include <cstdio>
#include <system_error>

namespace debossier {

namespace {

/// A file descriptor that closes itself.
struct Descriptor {
  int fd = -1;
  explicit Descriptor(int f) : fd(f) {}
  ~Descriptor() {
    if (fd >= 0) ::close(fd);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
};

std::string Reason(int error) { return std::error_code(error, std::generic_category()).message(); }

}  // namespace

Result<std::string> LoadFile(const std::filesystem::path& path, std::uint64_t max_bytes,
                             std::string_view stage) {
  const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
  if (file.fd < 0) {
    return Refuse(ErrorCode::kFileMissing, std::string(stage), path.string(),
                  fmt::format("cannot be opened: {}", Reason(errno)),
                  "check the path and the permissions");
  }
  struct stat info {};
  if (::fstat(file.fd, &info) != 0 || !S_ISREG(info.st_mode)) {
    return Refuse(ErrorCode::kFileMissing, std::string(stage), path.string(),
                  "is not a regular file", "name a file, not a folder or a device");
  }
  if (static_cast<std::uint64_t>(info.st_size) > max_bytes) {
    return Refuse(ErrorCode::kOverLimit, std::string(stage), path.string(),
                  fmt::format("has {} bytes, more than the {} accepted", info.st_size, max_bytes),
                  "give a smaller file");
  }
  std::string bytes(static_cast<std::size_t>(info.st_size), '\0');
  std::size_t done = 0;
  while (done < bytes.size()) {
    const ssize_t got = ::read(file.fd, bytes.data() + done, bytes.size() - done);
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) break;
    done += static_cast<std::size_t>(got);
  }
  if (done != bytes.size()) {
    return Refuse(ErrorCode::kFileMissing, std::string(stage), path.string(),
                  "could not be read to its end", "check the disk and try again");
  }
  return bytes;
}

namespace {

std::atomic<unsigned> aside_counter{0};  // so that two threads never share a temporary file

std::filesystem::path FolderOf(const std::filesystem::path& path) {
  return path.has_parent_path() ? path.parent_path() : ".";
}

Unexpected NotWritable(const std::filesystem::path& path, int error, std::string_view stage) {
  return Refuse(ErrorCode::kOutputNotWritable, std::string(stage), path.string(),
                fmt::format("cannot be written: {}", Reason(error)),
                "name a folder that exists, that you may write to and that has room");
}

Unexpected Exists(const std::filesystem::path& path, std::string_view stage) {
  return Refuse(ErrorCode::kOutputExists, std::string(stage), path.string(), "exists already",
                "remove it, name another output or allow replacing with --replace");
}

}  // namespace

Result<std::monostate> CheckWritable(const std::filesystem::path& path, IfExists if_exists,
                                     std::string_view stage) {
  struct stat info {};
  if (::stat(path.c_str(), &info) == 0) {
    if (S_ISDIR(info.st_mode)) return NotWritable(path, EISDIR, stage);
    if (!S_ISREG(info.st_mode)) {
      return Refuse(ErrorCode::kOutputNotWritable, std::string(stage), path.string(),
                    "is a device or a pipe, not a file", "name a file");
    }
  }
  if (::lstat(path.c_str(), &info) == 0 && if_exists == IfExists::kRefuse) {
    return Exists(path, stage);
  }
  const std::filesystem::path folder = FolderOf(path);
  if (::stat(folder.c_str(), &info) != 0 && errno == ENOENT) {
    return Refuse(ErrorCode::kOutputNotWritable, std::string(stage), path.string(),
                  "cannot be written: its folder does not exist", "make the folder first");
  }
  if (::access(folder.c_str(), W_OK | X_OK) != 0) return NotWritable(path, errno, stage);
  return std::monostate{};
}

int MoveNew(const std::filesystem::path& from, const std::filesystem::path& to) {
  if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0) return 0;
  // Some file systems cannot refuse to replace: the name is then taken first by something empty,
  // of which only one can win, and that is replaced.
  if (errno != EINVAL && errno != ENOSYS) return errno;
  struct stat info {};
  if (::lstat(from.c_str(), &info) != 0) return errno;
  if (S_ISDIR(info.st_mode)) {
    if (::mkdir(to.c_str(), 0755) != 0) return errno;
  } else {
    const Descriptor taken(::open(to.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644));
    if (taken.fd < 0) return errno;
  }
  if (::rename(from.c_str(), to.c_str()) == 0) return 0;
  const int error = errno;
  if (S_ISDIR(info.st_mode)) {
    ::rmdir(to.c_str());
  } else {
    ::unlink(to.c_str());
  }
  return error;
}

namespace {

/// A file under a temporary name beside its place; it goes unless it was moved there.
class Aside {
 public:
  explicit Aside(std::filesystem::path path)
      : path_(std::move(path)),
        aside_(FolderOf(path_) / fmt::format(".{}.{}.part", ::getpid(), aside_counter++)) {}
  ~Aside() {
    if (!aside_.empty()) ::unlink(aside_.c_str());
  }
  Aside(Aside&& other) noexcept : path_(std::move(other.path_)), aside_(std::move(other.aside_)) {
    other.aside_.clear();
  }
  Aside& operator=(Aside&&) = delete;

  const std::filesystem::path& path() const { return path_; }

  /// 0 or errno.
  int Write(std::string_view bytes) const {
    const Descriptor file(::open(aside_.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644));
    if (file.fd < 0) return errno;
    std::size_t done = 0;
    while (done < bytes.size()) {
      const ssize_t put = ::write(file.fd, bytes.data() + done, bytes.size() - done);
      if (put < 0 && errno == EINTR) continue;
      if (put <= 0) return put < 0 ? errno : EIO;
      done += static_cast<std::size_t>(put);
    }
    return ::fsync(file.fd) != 0 ? errno : 0;
  }

  /// 0 or errno.
  int MoveToPlace(IfExists if_exists) {
    const int error = if_exists == IfExists::kRefuse                 ? MoveNew(aside_, path_)
                      : ::rename(aside_.c_str(), path_.c_str()) == 0 ? 0
                                                                     : errno;
    if (error == 0) aside_.clear();
    return error;
  }

 private:
  std::filesystem::path path_;
  std::filesystem::path aside_;
};

}  // namespace

Result<std::monostate> WriteFilesWhole(const std::vector<FileToWrite>& files, IfExists if_exists,
                                       std::string_view stage) {
  std::vector<Aside> asides;
  for (const auto& [path, bytes] : files) {
    if (auto free = CheckWritable(path, if_exists, stage); !free) return free;
    asides.emplace_back(path);
    if (const int error = asides.back().Write(bytes)) return NotWritable(path, error, stage);
  }
  for (std::size_t i = 0; i < asides.size(); ++i) {
    const int error = asides[i].MoveToPlace(if_exists);
    if (error == 0) continue;
    // What replaced an old file cannot be taken back.
    for (std::size_t k = 0; k < i && if_exists == IfExists::kRefuse; ++k) {
      ::unlink(asides[k].path().c_str());
    }
    if (error == EEXIST) return Exists(asides[i].path(), stage);
    return NotWritable(asides[i].path(), error, stage);
  }
  return std::monostate{};
}

Result<std::monostate> WriteFileWhole(const std::filesystem::path& path, std::string_view bytes,
                                      IfExists if_exists, std::string_view stage) {
  return WriteFilesWhole({{path, bytes}}, if_exists, stage);
}

void FlushFolder(const std::filesystem::path& folder) {
  const Descriptor opened(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (opened.fd >= 0) ::fsync(opened.fd);  // some file systems cannot; the rename stands anyway
}

std::string Sha256Hex(std::string_view bytes) {
  sha256_ctx context;
  sha256_init(&context);
  sha256_update(&context, bytes.size(), reinterpret_cast<const std::uint8_t*>(bytes.data()));
  std::array<std::uint8_t, SHA256_DIGEST_SIZE> digest{};
  sha256_digest(&context, digest.size(), digest.data());
  std::string hex;
  for (const std::uint8_t byte : digest) hex += fmt::format("{:02x}", byte);
  return hex;
}

}  // namespace debossier
