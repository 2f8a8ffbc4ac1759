#include "base/files.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <nettle/sha2.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <cerrno>
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
  if (::lstat(path.c_str(), &info) == 0) {
    if (if_exists == IfExists::kRefuse) return Exists(path, stage);
    if (S_ISDIR(info.st_mode)) return NotWritable(path, EISDIR, stage);
  }
  const std::filesystem::path folder = path.has_parent_path() ? path.parent_path() : ".";
  if (::access(folder.c_str(), W_OK | X_OK) != 0) return NotWritable(path, errno, stage);
  return std::monostate{};
}

Result<std::monostate> WriteFileWhole(const std::filesystem::path& path, std::string_view bytes,
                                      IfExists if_exists, std::string_view stage) {
  const std::filesystem::path folder = path.has_parent_path() ? path.parent_path() : ".";
  const std::filesystem::path aside =
      folder / fmt::format(".{}.{}.part", ::getpid(), aside_counter++);
  if (auto free = CheckWritable(path, if_exists, stage); !free) return free;
  const auto not_writable = [&](int error) { return NotWritable(path, error, stage); };
  {
    const Descriptor file(::open(aside.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644));
    if (file.fd < 0) return not_writable(errno);
    std::size_t done = 0;
    while (done < bytes.size()) {
      const ssize_t put = ::write(file.fd, bytes.data() + done, bytes.size() - done);
      if (put < 0 && errno == EINTR) continue;
      if (put <= 0) {
        const int error = put < 0 ? errno : EIO;
        ::unlink(aside.c_str());
        return not_writable(error);
      }
      done += static_cast<std::size_t>(put);
    }
    if (::fsync(file.fd) != 0) {
      const int error = errno;
      ::unlink(aside.c_str());
      return not_writable(error);
    }
  }
  // link() refuses to replace where rename() would, so that two writers cannot both win.
  const bool keep = if_exists == IfExists::kRefuse;
  const int status =
      keep ? ::link(aside.c_str(), path.c_str()) : ::rename(aside.c_str(), path.c_str());
  const int error = errno;
  if (keep || status != 0) ::unlink(aside.c_str());
  if (status != 0) {
    if (error == EEXIST) return Exists(path, stage);
    return not_writable(error);
  }
  return std::monostate{};
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
