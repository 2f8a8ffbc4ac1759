#include "refset/curate.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "base/text_forms.h"
#include "refset/create.h"
#include "refset/edit_copy.h"
#include "refset/lock.h"
#include "refset/remake.h"
#include "refset/write_set.h"

namespace debossier::refset {

Result<std::monostate> Entry::Check(bool needs_reason) const {
  const auto refuse = [](const std::string& what, const std::string& hint) {
    return Refuse(ErrorCode::kUsage, "refset", "", what, hint);
  };
  if (by.empty()) {
    return refuse("it is not said who makes this change",
                  "--by NAME, or the variable DEBOSSIER_CURATOR");
  }
  if (!IsIsoDate(on)) {
    return refuse("it is not said when this change is made, as year-month-day",
                  "--on 2026-05-01, or the variable DEBOSSIER_DATE");
  }
  if (needs_reason && reason.empty()) {
    return refuse("this change needs a reason", "--reason \"why the item goes\"");
  }
  if (by.size() > 400 || reason.size() > 4000) {
    return refuse("the name or the reason is too long", "at most 400 and 4000 bytes");
  }
  return std::monostate{};
}

namespace {

/// The current revision under its lock.
struct Opened {
  SetLock lock;
  RefSet set;
};

Result<Opened> OpenForChange(const Library& library, const std::string& id, const Entry& entry,
                             bool needs_reason) {
  if (auto checked = entry.Check(needs_reason); !checked) return PassOn(checked);
  if (auto there = LoadSetRecord(library, id); !there) return PassOn(there);
  auto lock = SetLock::Take(library, id, entry.by);
  if (!lock) return PassOn(lock);
  auto set = LoadSet(library, id);
  if (!set) return PassOn(set);
  OfferOutlines(library, *set);
  return Opened{std::move(*lock), std::move(*set)};
}

Change ChangeOf(const char* kind, const Entry& entry, std::vector<std::string> items) {
  Change change;
  change.kind = kind;
  change.by = entry.by;
  change.on = entry.on;
  change.reason = entry.reason;
  change.items = std::move(items);
  return change;
}

/// Numbers are never used twice, not even those of retired items.
int LastNumber(const RefSet& set) {
  int last = 0;
  const auto see = [&](const std::string& id) {
    int number = 0;
    if (!id.starts_with("item")) return;
    const auto [end, error] = std::from_chars(id.data() + 4, id.data() + id.size(), number);
    if (error == std::errc() && end == id.data() + id.size()) last = std::max(last, number);
  };
  for (const auto& item : set.items) see(item.id);
  for (const auto& item : set.retired) see(item.id);
  return last;
}

/// Over all revisions, so that an undo does not free a number.
Result<int> NextNumber(const Library& library, const RefSet& set) {
  auto history = History(library, set.id);
  if (!history) return PassOn(history);
  int last = 0;
  for (const RefSet& revision : *history) last = std::max(last, LastNumber(revision));
  return last + 1;
}

/// An edit that lies in glyphs/ and was not adopted has no other place: it is not dropped without a
/// word of the user.
Result<std::monostate> CopyMayGo(const Library& library, const RefSet& set,
                                 const ChangeOptions& options) {
  if (options.drop_edits || !HasEdits(library, set)) return std::monostate{};
  return Refuse(
      ErrorCode::kUsage, "refset", EditCopy(library, set.id).string(),
      "holds an edit that the set does not have yet, and this change would replace it",
      fmt::format("`debossier refset adopt {}` takes it into the set, --drop-edits drops it",
                  set.id));
}

/// The same where outlines are about to be traced again, of adopted edits too.
Result<std::monostate> EditsMayGo(const Library& library, const RefSet& set,
                                  const ChangeOptions& options) {
  if (options.keep_outlines || options.drop_edits) return std::monostate{};
  if (auto may = CopyMayGo(library, set, options); !may) return may;
  if (!set.outlines_edited) return std::monostate{};
  return Refuse(ErrorCode::kUsage, "refset", set.id,
                "has outlines edited by hand, which tracing them again from the photos would drop",
                "--keep-outlines keeps them, --drop-edits drops the edit");
}

/// Finishes a change of items: outlines from all photos, or kept.
Result<Changed> Finish(const SetLock& lock, const Library& library, RefSet next,
                       const ChangeOptions& options, const std::vector<KeptPhoto>& kept,
                       bool remake) {
  Changed out;
  if (remake) {
    auto made = RemakeFromPhotos(library, next, options.photos);
    if (!made) return PassOn(made);
    next = std::move(made->set);
    next.outlines_edited = false;
    out.warnings = std::move(made->warnings);
  }
  if (next.change.kind == "add") {
    if (auto differ = CheckItemsDiffer(next.items); !differ) return PassOn(differ);
    if (options.accept) {
      if (auto accepted = options.accept(next); !accepted) return PassOn(accepted);
    }
  }
  auto written = WriteNextRevision(lock, library, std::move(next), remake, kept);
  if (!written) return PassOn(written);
  out.set = std::move(*written);
  return out;
}

}  // namespace

Result<Changed> AddItems(const Library& library, const std::string& id, const AddOptions& options,
                         const Entry& entry) {
  auto opened = OpenForChange(library, id, entry, false);
  if (!opened) return PassOn(opened);
  RefSet next = opened->set;
  const bool from_font = next.source != "photos";
  if (!from_font) {
    if (auto may = EditsMayGo(library, next, options); !may) return PassOn(may);
  }
  auto number = NextNumber(library, next);
  if (!number) return PassOn(number);
  ChangeOptions given = options;
  std::vector<std::string> ids;
  std::vector<KeptPhoto> kept;
  std::vector<Warning> notes;
  for (const auto& added : options.items) {
    for (const auto& item : next.items) {
      if (item.photo_sha256 != added.photo.sha256) continue;
      return Refuse(ErrorCode::kUsage, "refset", added.photo.file,
                    fmt::format("is in the set already, as {}", item.id),
                    "give a photo of another verified item");
    }
    for (const auto& gone : next.retired) {
      if (gone.photo_sha256 != added.photo.sha256) continue;
      notes.push_back({"refset", added.photo.file,
                       fmt::format("{} was retired before, as {}: {}", added.photo.file, gone.id,
                                   gone.reason)});
    }
    Item item;
    item.id = fmt::format("item{}", (*number)++);
    item.photo_file = added.photo.file;
    item.photo_sha256 = added.photo.sha256;
    item.basis = added.basis;
    item.entered_by = entry.by;
    item.entered_on = entry.on;
    if (options.keep_photos) {
      item.photo_kept = KeptName(added.photo);
      kept.push_back({item.photo_kept, added.photo.bytes});
    }
    ids.push_back(item.id);
    // A font's outlines are the maker's design, not a mean of photos: they stay.
    if (options.keep_outlines || from_font) {
      auto measured = MeasureItem(added.photo, next, item);
      if (!measured) return PassOn(measured);
    }
    given.photos.push_back(added.photo);
    next.items.push_back(std::move(item));
  }
  next.change = ChangeOf("add", entry, std::move(ids));
  auto out = Finish(opened->lock, library, std::move(next), given, kept,
                    !options.keep_outlines && !from_font);
  if (out) out->warnings.insert(out->warnings.end(), notes.begin(), notes.end());
  return out;
}

Result<Changed> RetireItem(const Library& library, const std::string& id,
                           const std::string& item_id, const ChangeOptions& options,
                           const Entry& entry) {
  auto opened = OpenForChange(library, id, entry, true);
  if (!opened) return PassOn(opened);
  RefSet next = std::move(opened->set);
  const auto item = std::find_if(next.items.begin(), next.items.end(),
                                 [&](const Item& i) { return i.id == item_id; });
  if (item == next.items.end()) {
    return Refuse(ErrorCode::kUsage, "refset", id, fmt::format("has no item \"{}\"", item_id),
                  "`debossier refset show` lists the items");
  }
  if (next.items.size() == 1 && next.source == "photos") {
    return Refuse(ErrorCode::kUsage, "refset", id, "would have no item left",
                  "add another item first");
  }
  const bool remake = !options.keep_outlines && next.source == "photos";
  if (remake) {
    if (auto may = EditsMayGo(library, next, options); !may) return PassOn(may);
  }
  next.retired.push_back({item->id, item->photo_file, item->photo_sha256, item->basis, entry.reason,
                          entry.by, entry.on});
  next.items.erase(item);
  next.change = ChangeOf("retire", entry, {item_id});
  return Finish(opened->lock, library, std::move(next), options, {}, remake);
}

Result<Changed> Undo(const Library& library, const std::string& id, int to, const Entry& entry,
                     const ChangeOptions& options) {
  auto opened = OpenForChange(library, id, entry, false);
  if (!opened) return PassOn(opened);
  if (to == 0) to = opened->set.revision - 1;
  if (to < 1 || to >= opened->set.revision) {
    return Refuse(ErrorCode::kUsage, "refset", id,
                  fmt::format("has no revision before its current one to go back to: revision {}",
                              opened->set.revision),
                  "`debossier refset log` lists the revisions");
  }
  auto next = LoadSet(library, id, to);
  if (!next) return PassOn(next);
  // Adopted outlines stay in the history; an edit that was not adopted has no other place.
  if (next->outlines_sha256 != opened->set.outlines_sha256) {
    if (auto may = CopyMayGo(library, opened->set, options); !may) return PassOn(may);
  }
  next->change = ChangeOf("undo", entry, {});
  next->change.undone_to = to;
  return Finish(opened->lock, library, std::move(*next), {}, {}, false);
}

Result<Changed> AdoptOutlines(const Library& library, const std::string& id,
                              const std::filesystem::path& ufo, const ChangeOptions& options,
                              const Entry& entry) {
  auto opened = OpenForChange(library, id, entry, false);
  if (!opened) return PassOn(opened);
  const bool version_1 = opened->set.outlines_sha256.empty();
  const auto copy =
      version_1 ? library.glyphs() / opened->set.outlines_name : EditCopy(library, id);
  const auto folder = ufo.empty() ? copy : ufo;
  if (folder != copy) {
    if (auto may = CopyMayGo(library, opened->set, options); !may) return PassOn(may);
  }
  auto next = WithOutlinesOf(folder, opened->set);
  if (!next) return PassOn(next);
  for (auto& item : next->items) {
    auto photo = PhotoOfItem(library, *next, item, options.photos);
    if (!photo) return PassOn(photo);
    auto measured = MeasureItem(*photo, *next, item);
    if (!measured) return PassOn(measured);
  }
  next->outlines_edited = true;
  next->change = ChangeOf("adopt", entry, {});
  auto written = WriteNextRevision(opened->lock, library, std::move(*next), true, {});
  if (!written) return PassOn(written);
  return Changed{std::move(*written), {}};
}

std::string KeptName(const image::Photo& photo) {
  const char* ending = ".jpg";
  if (photo.header.format == image::Format::kPng) ending = ".png";
  if (photo.header.format == image::Format::kTiff) ending = ".tif";
  if (photo.header.format == image::Format::kWebp) ending = ".webp";
  if (photo.header.format == image::Format::kHeic) ending = ".heic";
  return photo.sha256 + ending;
}

}  // namespace debossier::refset
