#include "batch/output_folder.h"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <string>
#include <system_error>
#include <vector>

#include "base/files.h"

namespace debossier::batch {

namespace fs = std::filesystem;

namespace {

constexpr const char* kMark = "batch.json";
constexpr const char* kLock = ".lock";
constexpr const char* kMarkText = "{\n \"format\": \"debossier-batch\",\n \"version\": 1\n}\n";

Unexpected NotWritable(const fs::path& path, const std::string& why) {
  return Refuse(ErrorCode::kOutputNotWritable, "batch", path.string(), why,
                "name a folder that you may write to and that has room");
}

// ".<process>.<count>.part", as base/files names them.
bool IsTemporary(const std::string& name) {
  if (!name.starts_with('.') || !name.ends_with(".part")) return false;
  const std::string middle = name.substr(1, name.size() - 6);
  return !middle.empty() && middle.find_first_not_of("0123456789.") == std::string::npos;
}

bool IsUnused(const fs::path& folder) {
  std::error_code error;
  return std::all_of(fs::directory_iterator(folder, error), fs::directory_iterator(),
                     [](const fs::directory_entry& entry) {
                       const std::string name = entry.path().filename().string();
                       return name == kLock || IsTemporary(name);
                     });
}

Result<std::monostate> CheckMark(const fs::path& folder) {
  std::error_code error;
  const fs::path mark = folder / kMark;
  if (!fs::exists(mark, error)) {
    if (IsUnused(folder)) return std::monostate{};
    return Refuse(ErrorCode::kOutputExists, "batch", folder.string(),
                  "holds files that are not of a batch", "name a new or an empty folder");
  }
  const auto text = LoadFile(mark, 4096, "batch");
  const auto json = nlohmann::json::parse(text ? *text : "", nullptr, false);
  if (!json.is_object() || json.value("format", nlohmann::json()) != "debossier-batch" ||
      !json.contains("version") || !json["version"].is_number_integer()) {
    return Refuse(ErrorCode::kOutputExists, "batch", mark.string(), "is not the mark of a batch",
                  "name a new or an empty folder");
  }
  if (json["version"].get<int>() > 1) {
    return Refuse(ErrorCode::kNewerFormat, "batch", mark.string(), "was written by a newer version",
                  "use that version, or another folder");
  }
  return std::monostate{};
}

}  // namespace

Result<FileLock> TakeFolder(const fs::path& folder) {
  std::error_code error;
  fs::create_directories(folder, error);
  std::error_code ignored;
  if (const fs::path parent = fs::absolute(folder, ignored).parent_path();
      error && !fs::exists(parent, ignored)) {
    return Refuse(ErrorCode::kOutputNotWritable, "batch", folder.string(),
                  "cannot be made: there is no folder " + parent.string(),
                  "make that folder first");
  }
  if (error || !fs::is_directory(folder, error)) {
    return NotWritable(folder, "cannot be made: " + error.message());
  }
  // Looked at before anything is put there.
  if (auto checked = CheckMark(folder); !checked) return PassOn(checked);
  FileLock lock = FileLock::OnFile(folder / kLock);
  if (lock.fd() < 0) {
    return NotWritable(
        folder,
        "cannot be written: " + std::error_code(lock.error(), std::generic_category()).message());
  }
  if (!lock.Try()) {
    return Refuse(ErrorCode::kOutputNotWritable, "batch", folder.string(),
                  "is in use by another run", "wait until that run has ended");
  }
  // The mark comes before all else: a run that is killed here must find its folder again.
  if (!fs::exists(folder / kMark, error)) {
    auto written = WriteFileWhole(folder / kMark, kMarkText, IfExists::kReplace, "batch");
    if (!written) return PassOn(written);
  }
  std::vector<fs::path> folders = {folder};
  for (const char* name : {"json", "pdf", "thumbnails", "pairs", "records", "dossiers"}) {
    folders.push_back(folder / name);
    fs::create_directory(folders.back(), error);
    if (error) return NotWritable(folders.back(), "cannot be made: " + error.message());
    // A link here would lead the outputs elsewhere.
    if (fs::is_symlink(folders.back(), error)) return NotWritable(folders.back(), "is a link");
  }
  for (const fs::path& each : folders) {
    std::vector<fs::path> stray;
    for (const auto& entry : fs::directory_iterator(each, error)) {
      if (IsTemporary(entry.path().filename().string())) stray.push_back(entry.path());
    }
    for (const fs::path& path : stray) fs::remove(path, error);
  }
  return lock;
}

}  // namespace debossier::batch
