// Reading whole files within a size limit, and writing them whole or not at all.
//
// Not for: streaming; every file of this program fits in memory.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "base/result.h"

namespace debossier {

/// Reads a regular file of at most `max_bytes`. Refuses with kFileMissing (absent, not readable,
/// a folder, a device) or kOverLimit.
Result<std::string> LoadFile(const std::filesystem::path& path, std::uint64_t max_bytes,
                             std::string_view stage);

enum class IfExists { kRefuse, kReplace };

/// Writes `bytes` beside `path` under a temporary name, flushes it to the disk and renames it into
/// place: a reader sees the old file or the new one. Refuses with kOutputExists or
/// kOutputNotWritable; nothing stays behind then.
Result<std::monostate> WriteFileWhole(const std::filesystem::path& path, std::string_view bytes,
                                      IfExists if_exists, std::string_view stage);

/// One of several files that belong together.
struct FileToWrite {
  std::filesystem::path path;
  std::string_view bytes;
};

/// The same for files that belong together: all are on the disk under temporary names before the
/// first is renamed, so that one that cannot be written leaves none of them.
Result<std::monostate> WriteFilesWhole(const std::vector<FileToWrite>& files, IfExists if_exists,
                                       std::string_view stage);

/// Renames a file or folder where nothing of its new name is: 0 or errno, EEXIST where something
/// is. Works where the file system has neither hard links nor a rename that refuses to replace
/// (FAT, exFAT, network shares).
int MoveNew(const std::filesystem::path& from, const std::filesystem::path& to);

/// Checks early what WriteFileWhole would refuse: that `path` is free (or may be replaced by a
/// file) and that its folder can be written.
Result<std::monostate> CheckWritable(const std::filesystem::path& path, IfExists if_exists,
                                     std::string_view stage);

/// Flushes a folder's own entries to the disk: what was renamed in it stays so after a power cut.
void FlushFolder(const std::filesystem::path& folder);

/// SHA-256 (FIPS 180-4) of `bytes` in lower-case hexadecimal.
std::string Sha256Hex(std::string_view bytes);

}  // namespace debossier
