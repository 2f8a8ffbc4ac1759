#include "refset/write_set.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>
#include <system_error>

#include "base/files.h"
#include "outline/ufo.h"
#include "refset/edit_copy.h"
#include "refset/outlines.h"

namespace debossier::refset {

namespace fs = std::filesystem;

void SweepFolder(const fs::path& folder, const std::string& start) {
  std::error_code error;
  std::vector<fs::path> left;
  for (fs::directory_iterator it(folder, error), end; !error && it != end; it.increment(error)) {
    const std::string name = it->path().filename().string();
    if (name.starts_with("." + start) && name.ends_with(".part")) left.push_back(it->path());
  }
  for (const auto& path : left) fs::remove_all(path, error);
}

namespace {

using Done = Result<std::monostate>;

constexpr std::uint64_t kMaxSetBytes = 16u << 20;

Unexpected NotWritable(const fs::path& folder, const std::string& why) {
  return Refuse(ErrorCode::kOutputNotWritable, "refset", folder.string(),
                "cannot be written: " + why,
                "name a library folder that you may write to and that has room");
}

Done MakeFolders(const fs::path& folder) {
  std::error_code error;
  for (const char* part : {"", "revisions", "outlines", "photos"}) {
    fs::create_directories(folder / part, error);
    if (error) return NotWritable(folder, error.message());
  }
  return std::monostate{};
}

/// What a killed change left in a set's folder, under its lock.
void SweepSet(const fs::path& folder) {
  for (const char* part : {"", "revisions", "outlines", "photos"}) SweepFolder(folder / part, "");
}

/// What a killed create of this id left. The caller holds the lock of `refsets/`.
void SweepCreates(const Library& library, const std::string& id) {
  SweepFolder(library.refsets(), id + ".");
}

/// Writes the outlines and reads them back: the digest is of what the files hold.
Done WriteOutlines(const fs::path& folder, RefSet& set) {
  const fs::path target = folder / "outlines" / set.outlines_name;
  auto written = outline::WriteUfo(FontOf(set), target);
  if (!written) return written;
  auto back = outline::LoadUfo(target);
  if (!back) return PassOn(back);
  set.outlines_sha256 = Digest(*back);
  return std::monostate{};
}

/// Photos are named by their hash: one that is there is the same.
Done WritePhotos(const fs::path& folder, const std::vector<KeptPhoto>& photos) {
  std::error_code ignored;
  for (const auto& photo : photos) {
    const fs::path path = folder / "photos" / photo.name;
    if (fs::exists(path, ignored)) continue;
    auto written = WriteFileWhole(path, photo.bytes, IfExists::kRefuse, "refset");
    if (!written) return written;
  }
  return std::monostate{};
}

void FlushAll(const fs::path& folder) {
  for (const char* part : {"photos", "outlines", "revisions"}) FlushFolder(folder / part);
}

std::string OutlinesName(const RefSet& set) {
  return fmt::format("{}-r{}.ufo", set.id, set.revision);
}

/// A revision's file with its hash beside it.
Done WriteRecord(const fs::path& file, const std::string& json) {
  const std::string sum = fmt::format("{}  {}\n", Sha256Hex(json), file.filename().string());
  return WriteFilesWhole({{HashFile(file), sum}, {file, json}}, IfExists::kRefuse, "refset");
}

Done WriteAside(const fs::path& aside, RefSet& set, const std::vector<KeptPhoto>& photos) {
  if (auto made = MakeFolders(aside); !made) return made;
  if (auto done = WritePhotos(aside, photos); !done) return done;
  set.outlines_name = OutlinesName(set);
  if (auto done = WriteOutlines(aside, set); !done) return done;
  const std::string json = SetJson(set);
  const fs::path file = aside / "revisions" / fmt::format("{}.json", set.revision);
  if (auto done = WriteRecord(file, json); !done) return done;
  auto done = WriteFileWhole(aside / "set.json", json, IfExists::kRefuse, "refset");
  if (!done) return done;
  FlushAll(aside);
  return std::monostate{};
}

}  // namespace

Result<std::monostate> WriteNewSet(const Library& library, const RefSet& given,
                                   const std::vector<KeptPhoto>& photos) {
  if (!IsValidId(given.id)) {
    return Refuse(ErrorCode::kUsage, "refset", given.id, "cannot be the id of a reference set",
                  "use 1 to 64 letters a-z, figures, '-' and '_'");
  }
  RefSet set = given;
  set.origins.clear();
  std::error_code error;
  if (!fs::is_directory(library.folder, error)) return NoLibrary(library);
  const fs::path folder = library.set(set.id);
  const auto exists = [](const fs::path& path) {
    return Refuse(ErrorCode::kOutputExists, "refset", path.string(), "exists already",
                  "choose another id");
  };
  if (fs::exists(folder, error)) return exists(folder);
  const fs::path copy = EditCopy(library, set.id);
  if (fs::exists(copy, error)) return exists(copy);
  fs::create_directories(library.refsets(), error);
  if (error) return NotWritable(folder, error.message());
  const FolderLock lock(library.refsets());
  if (lock.held()) SweepCreates(library, set.id);
  const fs::path aside = library.refsets() / fmt::format(".{}.{}.part", set.id, ::getpid());
  fs::remove_all(aside, error);
  Done status = WriteAside(aside, set, photos);
  if (status) {
    const int failed = MoveNew(aside, folder);
    if (failed == EEXIST || failed == ENOTEMPTY) {
      status = exists(folder);
    } else if (failed != 0) {
      status = NotWritable(folder, std::generic_category().message(failed));
    }
  }
  if (!status) {
    fs::remove_all(aside, error);
    Error e = status.error();
    if (e.code == ErrorCode::kOutputNotWritable) e.where = folder.string();
    return Unexpected(std::move(e));
  }
  FlushFolder(library.refsets());
  OfferOutlines(library, set);
  return status;
}

namespace {

/// Keeps the current revision's file under its number: sets of version 1 have none yet. Gives its
/// bytes.
Result<std::string> KeepCurrent(const Library& library, const RefSet& set, int revision) {
  auto bytes = LoadFile(RevisionFile(library, set.id, 0), kMaxSetBytes, "refset");
  if (!bytes) return bytes;
  const fs::path kept = RevisionFile(library, set.id, revision);
  std::error_code error;
  if (!fs::exists(kept, error)) {
    auto written = WriteFileWhole(kept, *bytes, IfExists::kRefuse, "refset");
    if (!written) return PassOn(written);
    return bytes;
  }
  auto same = LoadFile(kept, kMaxSetBytes, "refset");
  if (!same) return same;
  if (*same != *bytes) {
    return Refuse(ErrorCode::kSetUnreadable, "refset", kept.string(),
                  "differs from set.json, which should be the same revision",
                  "one of them was changed by hand: restore it from a backup");
  }
  return bytes;
}

/// The outlines that a revision names lie with the set. Those of version 1 lie in glyphs/ until the
/// first change, which copies them as they are.
Done BringOutlines(const Library& library, const fs::path& folder, bool new_outlines,
                   RefSet& next) {
  std::error_code error;
  if (new_outlines) {
    next.outlines_name = OutlinesName(next);
    next.origins.clear();
    fs::remove_all(folder / "outlines" / next.outlines_name, error);
    return WriteOutlines(folder, next);
  }
  if (!next.outlines_sha256.empty()) return std::monostate{};
  const fs::path own = folder / "outlines" / next.outlines_name;
  const bool there = fs::exists(own, error);
  auto font = outline::LoadUfo(there ? own : library.glyphs() / next.outlines_name);
  if (!font) return PassOn(font);
  next.outlines_sha256 = Digest(*font);
  if (there) return std::monostate{};
  return outline::WriteUfo(*font, own);
}

}  // namespace

Result<RefSet> WriteNextRevision(const SetLock&, const Library& library, RefSet next,
                                 bool new_outlines, const std::vector<KeptPhoto>& photos) {
  const fs::path folder = library.set(next.id);
  auto current = LoadSetRecord(library, next.id);
  if (!current) return PassOn(current);
  if (auto made = MakeFolders(folder); !made) return PassOn(made);
  SweepSet(folder);
  if (const FolderLock lock(library.refsets()); lock.held()) SweepCreates(library, next.id);
  auto bytes = KeepCurrent(library, next, current->revision);
  if (!bytes) return PassOn(bytes);
  next.revision = current->revision + 1;
  next.previous_revision = current->revision;
  next.previous_sha256 = Sha256Hex(*bytes);
  if (auto done = WritePhotos(folder, photos); !done) return PassOn(done);
  if (auto done = BringOutlines(library, folder, new_outlines, next); !done) return PassOn(done);
  const std::string json = SetJson(next);
  const fs::path file = RevisionFile(library, next.id, next.revision);
  std::error_code error;
  // Of a change that was killed before it became the current one.
  fs::remove(file, error);
  fs::remove(HashFile(file), error);
  Done status = WriteRecord(file, json);
  if (status) {
    FlushAll(folder);
    status = WriteFileWhole(folder / "set.json", json, IfExists::kReplace, "refset");
  }
  if (!status) {
    fs::remove(file, error);
    fs::remove(HashFile(file), error);
    if (new_outlines) fs::remove_all(folder / "outlines" / next.outlines_name, error);
    return PassOn(status);
  }
  FlushFolder(folder);
  OfferOutlines(library, next, next.outlines_sha256 != current->outlines_sha256);
  return next;
}

}  // namespace debossier::refset
