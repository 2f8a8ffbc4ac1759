#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <system_error>

#include "base/files.h"
#include "base/quantile.h"
#include "outline/ufo.h"
#include "refset/edit_copy.h"
#include "refset/outlines.h"
#include "refset/refset.h"

namespace debossier::refset {

namespace fs = std::filesystem;

namespace {

constexpr std::uint64_t kMaxSetBytes = 16u << 20;

bool IsPlainName(const std::string& name) {
  return !name.empty() && name.size() <= 120 && name.find('/') == std::string::npos &&
         name.find('\\') == std::string::npos && name[0] != '.';
}

Error Missing(const Library& library, const std::string& id) {
  return {ErrorCode::kSetMissing, "refset", library.set(id).string(),
          "there is no such reference set",
          "list the sets with `debossier refset list`, or name the library with --library"};
}

Unexpected Unreadable(const fs::path& file, const std::string& what) {
  return Refuse(ErrorCode::kSetUnreadable, "refset", file.string(), what,
                "restore the set and its outlines from a backup, or build it again");
}

struct Loaded {
  ParsedSet parsed;
  fs::path file;
  std::string sha256;
};

Result<Loaded> LoadFrom(const fs::path& file, const std::string& id) {
  auto bytes = LoadFile(file, kMaxSetBytes, "refset");
  if (!bytes) {
    Error e = bytes.error();
    if (e.code == ErrorCode::kFileMissing) e.code = ErrorCode::kSetUnreadable;
    return Unexpected(std::move(e));
  }
  auto parsed = ParseSet(*bytes, file.string());
  if (!parsed) return PassOn(parsed);
  if (parsed->set.id != id) return Unreadable(file, "names another set than its folder");
  if (!IsPlainName(parsed->set.outlines_name)) {
    return Unreadable(file, "names outlines outside the library");
  }
  for (const auto& item : parsed->set.items) {
    if (!item.photo_kept.empty() && !IsPlainName(item.photo_kept)) {
      return Unreadable(file, "names a photo outside the library");
    }
  }
  return Loaded{std::move(*parsed), file, Sha256Hex(*bytes)};
}

/// The current revision is kept twice, and its hash beside it: a change by hand of either file
/// shows, and the hash says of which.
Result<std::monostate> CheckRecord(const Library& library, const Loaded& current) {
  const RefSet& set = current.parsed.set;
  if (current.parsed.version < 2) return std::monostate{};
  const fs::path file = RevisionFile(library, set.id, set.revision);
  auto record = LoadFile(file, kMaxSetBytes, "refset");
  if (!record) return Unreadable(file, "is missing, or cannot be read: the record of the revision");
  const std::string sha256 = Sha256Hex(*record);
  const auto sum = LoadFile(HashFile(file), 200, "refset");
  const bool has_sum = sum && sum->size() > 64;
  const bool sound = !has_sum || sum->substr(0, 64) == sha256;
  if (sha256 != current.sha256) {
    if (!sound && sum->substr(0, 64) == current.sha256) {
      return Unreadable(file, "was changed by hand: it differs from set.json and from its hash");
    }
    return Unreadable(current.file, fmt::format("was changed by hand: it is not what {} holds",
                                                file.lexically_relative(library.folder).string()));
  }
  if (sound) return std::monostate{};
  return Unreadable(current.file, fmt::format("does not have the hash that stands in {}",
                                              HashFile(file).filename().string()));
}

Result<Loaded> LoadCurrent(const Library& library, const std::string& id) {
  if (!IsValidId(id)) {
    return Refuse(ErrorCode::kUsage, "refset", id, "is not the id of a reference set",
                  "ids have letters a-z, figures, '-' and '_'");
  }
  const fs::path current = RevisionFile(library, id, 0);
  std::error_code error;
  if (!fs::is_directory(library.folder, error)) return NoLibrary(library);
  if (!fs::exists(current, error)) return Unexpected(Missing(library, id));
  auto loaded = LoadFrom(current, id);
  if (!loaded) return loaded;
  if (auto checked = CheckRecord(library, *loaded); !checked) return PassOn(checked);
  return loaded;
}

/// The revision before `newer`, which holds its hash: a file changed since then is refused.
Result<Loaded> LoadBefore(const Library& library, const std::string& id, const Loaded& newer) {
  const RefSet& set = newer.parsed.set;
  const int revision = set.revision - 1;
  if (set.previous_revision != revision) {
    return Unreadable(newer.file,
                      fmt::format("does not name revision {} as the one before it", revision));
  }
  auto older = LoadFrom(RevisionFile(library, id, revision), id);
  if (!older) return older;
  if (older->sha256 != set.previous_sha256) {
    return Unreadable(older->file,
                      fmt::format("was changed after revision {} was made from it", set.revision));
  }
  if (older->parsed.set.revision != revision) {
    return Unreadable(older->file, "holds another revision than its name says");
  }
  return older;
}

/// Revision 0 is the current one. A revision beyond the current was never finished: it is not
/// there. The way to an older one leads through all between, each checked against the next.
Result<Loaded> LoadRecord(const Library& library, const std::string& id, int revision) {
  auto loaded = LoadCurrent(library, id);
  if (!loaded) return loaded;
  const int newest = loaded->parsed.set.revision;
  if (revision == 0) return loaded;
  if (revision < 0 || revision > newest) {
    return Refuse(ErrorCode::kSetMissing, "refset", library.set(id).string(),
                  fmt::format("has no revision {}; the current one is {}", revision, newest),
                  "list the revisions with `debossier refset log`");
  }
  while (loaded && loaded->parsed.set.revision > revision) {
    if (loaded->parsed.set.previous_revision == 0) {
      return Refuse(ErrorCode::kSetMissing, "refset", loaded->file.string(),
                    fmt::format("is the set's first revision; there is no revision {}", revision),
                    "list the revisions with `debossier refset log`");
    }
    loaded = LoadBefore(library, id, *loaded);
  }
  return loaded;
}

}  // namespace

Unexpected NoLibrary(const Library& library) {
  return Refuse(ErrorCode::kSetMissing, "refset", library.folder.string(),
                "the library's folder does not exist",
                "name it with --library or DEBOSSIER_LIBRARY, or make it first");
}

bool IsValidId(const std::string& id) {
  if (id.empty() || id.size() > 64) return false;
  const auto plain = [](char c) { return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9'); };
  if (!plain(id[0])) return false;
  return std::all_of(id.begin(), id.end(),
                     [&](char c) { return plain(c) || c == '-' || c == '_'; });
}

FeatureStatistics StatisticsOf(const RefSet& set, const std::string& key) {
  FeatureStatistics s;
  double u2 = 0;
  for (const auto& item : set.items) {
    const auto it = item.features.find(key);
    if (it == item.features.end()) continue;
    s.values.push_back(it->second.value);
    s.u.push_back(it->second.u);
    s.mean += it->second.value;
    u2 += it->second.u * it->second.u;
  }
  s.count = static_cast<int>(s.values.size());
  if (s.count == 0) return s;
  s.mean /= s.count;
  s.mean_u = std::sqrt(u2 / s.count);
  for (const double v : s.values) s.deviation += (v - s.mean) * (v - s.mean);
  s.deviation = s.count > 1 ? std::sqrt(s.deviation / (s.count - 1)) : 0;
  return s;
}

OutlineAgreement AgreementWithOutlines(const Item& item) {
  OutlineAgreement out;
  std::vector<double> places;
  std::vector<double> sizes;
  for (const auto& [id, pose] : item.poses) {
    places.push_back(std::hypot(pose.value[0], pose.value[1]));
    sizes.push_back(std::max(std::abs(pose.value[2]), std::abs(pose.value[3])));
  }
  out.elements = static_cast<int>(places.size());
  if (places.empty()) return out;
  out.places = Quantile(std::move(places), 0.95);
  out.sizes = Quantile(std::move(sizes), 0.95);
  return out;
}

fs::path RevisionFile(const Library& library, const std::string& id, int revision) {
  if (revision == 0) return library.set(id) / "set.json";
  return library.set(id) / "revisions" / fmt::format("{}.json", revision);
}

fs::path HashFile(const fs::path& revision_file) {
  return fs::path(revision_file).replace_extension(".sha256");
}

Result<RefSet> LoadSetRecord(const Library& library, const std::string& id, int revision) {
  auto loaded = LoadRecord(library, id, revision);
  if (!loaded) return PassOn(loaded);
  return std::move(loaded->parsed.set);
}

Result<std::vector<RefSet>> History(const Library& library, const std::string& id) {
  auto loaded = LoadCurrent(library, id);
  if (!loaded) return PassOn(loaded);
  std::vector<RefSet> history{loaded->parsed.set};
  while (loaded->parsed.set.previous_revision > 0) {
    loaded = LoadBefore(library, id, *loaded);
    if (!loaded) return PassOn(loaded);
    history.push_back(loaded->parsed.set);
  }
  std::reverse(history.begin(), history.end());
  return history;
}

Result<RefSet> LoadSet(const Library& library, const std::string& id, int revision) {
  auto loaded = LoadRecord(library, id, revision);
  if (!loaded) return PassOn(loaded);
  RefSet set = std::move(loaded->parsed.set);
  // The set's own copy first: the one in glyphs/ may be under somebody's pen.
  std::error_code error;
  fs::path folder = library.set(id) / "outlines" / set.outlines_name;
  if (set.outlines_sha256.empty() && !fs::exists(folder, error)) {
    folder = library.glyphs() / set.outlines_name;
  }
  auto font = outline::LoadUfo(folder);
  if (!font) return PassOn(font);
  if (!set.outlines_sha256.empty() && Digest(*font) != set.outlines_sha256) {
    return Refuse(ErrorCode::kSetUnreadable, "refset", folder.string(),
                  "was changed after the set was written",
                  "restore it from a backup; the file to edit is the one in glyphs/, which "
                  "`debossier refset adopt` takes into the set");
  }
  auto placed = PlaceOutlines(*font, loaded->parsed.glyphs, loaded->file.string(), set.lettering);
  if (!placed) return PassOn(placed);
  for (const auto& glyph : loaded->parsed.glyphs) set.origins.push_back(glyph.origin);
  const bool missing = !fs::exists(EditCopy(library, id), error);
  if (missing && (revision == 0 || revision == set.revision)) OfferOutlines(library, set);
  return set;
}

Result<std::vector<std::string>> ListSets(const Library& library) {
  std::vector<std::string> ids;
  std::error_code error;
  if (!fs::is_directory(library.folder, error)) return NoLibrary(library);
  if (!fs::exists(library.refsets(), error)) return ids;  // a library without sets
  fs::directory_iterator it(library.refsets(), error);
  if (error) {
    return Refuse(ErrorCode::kSetMissing, "refset", library.refsets().string(),
                  "cannot be listed: " + error.message(),
                  "name the library's folder with --library or DEBOSSIER_LIBRARY");
  }
  for (const auto& entry : it) {
    const std::string name = entry.path().filename().string();
    if (IsValidId(name) && fs::exists(entry.path() / "set.json", error)) ids.push_back(name);
  }
  std::sort(ids.begin(), ids.end());
  return ids;
}

}  // namespace debossier::refset
