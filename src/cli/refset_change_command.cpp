#include <fmt/format.h>

#include <cstdlib>
#include <memory>

#include "base/unicode.h"
#include "cli/commands.h"
#include "image/photo.h"
#include "refset/curate.h"

namespace debossier::cli {

namespace {

struct ChangeJob {
  std::string set_id;
  std::string item_id;
  std::vector<std::string> photos;
  std::vector<std::string> with_photos;
  std::vector<std::string> bases;
  std::string outlines;
  int to = 0;
  bool photos_not_kept = false;
  bool allow_departing = false;
  std::string check;  ///< What holding the items against each other said.
  refset::AddOptions options;
  refset::Entry entry;
};

/// Options that every change has.
void AddEntry(CLI::App& command, ChangeJob& job) {
  command.add_option("set", job.set_id, "Id of the reference set")->required();
  command.add_option("--by", job.entry.by, "Who makes the change")->envname("DEBOSSIER_CURATOR");
  command.add_option("--on", job.entry.on, "Date of the change, for example 2026-05-01")
      ->envname("DEBOSSIER_DATE");
  command.add_option("--reason", job.entry.reason, "Why, for those who read the history");
}

void AddPhotoOptions(CLI::App& command, ChangeJob& job) {
  command
      .add_option("--with-photo", job.with_photos,
                  "Photo of an item whose photo the library does not keep; repeat for each")
      ->take_all();
}

void AddDropEdits(CLI::App& command, ChangeJob& job) {
  command.add_flag("--drop-edits", job.options.drop_edits,
                   "Replace outlines that were edited by hand, in the set or in glyphs/");
}

void AddOutlineOptions(CLI::App& command, ChangeJob& job) {
  command.add_flag("--keep-outlines", job.options.keep_outlines,
                   "Leave the outlines as they are instead of tracing them again from all photos");
  AddDropEdits(command, job);
  AddPhotoOptions(command, job);
}

Result<std::monostate> LoadPhotos(ChangeJob& job) {
  for (const auto& path : job.with_photos) {
    auto photo = image::LoadPhoto(path);
    if (!photo) return PassOn(photo);
    job.options.photos.push_back(std::move(*photo));
  }
  if (job.bases.size() > 1 && job.bases.size() != job.photos.size()) {
    return Refuse(ErrorCode::kUsage, "cli", "", "there are not as many bases as photos",
                  "give one --basis for all photos, or one for each");
  }
  for (std::size_t i = 0; i < job.photos.size(); ++i) {
    auto photo = image::LoadPhoto(job.photos[i]);
    if (!photo) return PassOn(photo);
    job.options.items.push_back(
        {std::move(*photo), job.bases.size() == 1 ? job.bases[0] : job.bases[i]});
  }
  job.options.keep_photos = !job.photos_not_kept;
  return std::monostate{};
}

Result<std::string> InWords(const Result<refset::Changed>& changed, const ChangeJob& job) {
  if (!changed) {
    // The name inside the library is the file's; people know the path they gave.
    Error error = changed.error();
    for (const auto& path : job.photos) {
      if (error.where == std::filesystem::path(path).filename()) error.where = path;
    }
    return Unexpected(std::move(error));
  }
  std::string out = fmt::format("Reference set {} is now at revision {}: {} item{}.\n",
                                changed->set.id, changed->set.revision, changed->set.items.size(),
                                changed->set.items.size() == 1 ? "" : "s");
  if (changed->set.source != "photos") out += FontAgreementInWords(changed->set);
  out += job.check;
  for (const auto& w : changed->warnings) out += "Note: " + w.message + "\n";
  return out;
}

/// Holds the photos to be added against the set as it is; one from a font alone says nothing yet.
Result<std::monostate> CheckAdded(const refset::Library& library, const ChangeJob& job) {
  const auto set = refset::LoadSet(library, job.set_id);
  if (job.allow_departing || !set || set->items.empty()) return std::monostate{};
  std::vector<const image::Photo*> photos;
  for (const auto& item : job.options.items) photos.push_back(&item.photo);
  return CheckPhotos(photos, *set);
}

/// The outcome is printed with the change, or refuses it.
Result<std::monostate> AcceptItems(const refset::RefSet& next, ChangeJob& job) {
  auto check = CheckNewItems(next, job.allow_departing);
  if (!check) return PassOn(check);
  job.check = std::move(*check);
  return std::monostate{};
}

Result<std::string> RunLog(const std::string& id, const Shared& shared) {
  auto history = refset::History(shared.Library(), id);
  if (!history) return PassOn(history);
  std::string out;
  for (const auto& set : *history) {
    const auto& c = set.change;
    out += fmt::format("revision {}\t{}\t{}\t{}\t{} item{}", set.revision,
                       c.on.empty() ? "date not given" : Visible(c.on),
                       c.by.empty() ? "name not given" : Visible(c.by), Visible(c.kind),
                       set.items.size(), set.items.size() == 1 ? "" : "s");
    for (const auto& item : c.items) out += fmt::format(" {}", Visible(item));
    if (c.undone_to > 0) out += fmt::format(" equal to revision {}", c.undone_to);
    if (!c.reason.empty()) out += fmt::format("\t{}", Visible(c.reason));
    out += "\n";
  }
  return out;
}

using Run = Result<refset::Changed> (*)(const refset::Library&, ChangeJob&);

CLI::App* AddChange(CLI::App& refset, const Shared& shared, Job& job, const char* name,
                    const char* about, const std::shared_ptr<ChangeJob>& state, Run run) {
  auto* command = refset.add_subcommand(name, about);
  AddEntry(*command, *state);
  command->callback([&job, &shared, state, run] {
    job = [&shared, state, run]() -> Result<std::string> {
      if (auto loaded = LoadPhotos(*state); !loaded) return PassOn(loaded);
      return InWords(run(shared.Library(), *state), *state);
    };
  });
  return command;
}

}  // namespace

void AddRefsetChanges(CLI::App& refset, const Shared& shared, Job& job) {
  auto add = std::make_shared<ChangeJob>();
  auto* command = AddChange(refset, shared, job, "add", "Add verified items to a set", add,
                            [](const refset::Library& library, ChangeJob& j) {
                              const auto photos = CheckAdded(library, j);
                              if (!photos) return Result<refset::Changed>(PassOn(photos));
                              j.options.accept = [&j](const refset::RefSet& next) {
                                return AcceptItems(next, j);
                              };
                              return refset::AddItems(library, j.set_id, j.options, j.entry);
                            });
  command->add_option("--photo", add->photos, "Photo of a verified item; repeat for each")
      ->required()
      ->take_all();
  command
      ->add_option("--basis", add->bases,
                   "Basis of verification: one for all photos, or one for each")
      ->required()
      ->take_all();
  command->add_flag("--photos-not-kept", add->photos_not_kept,
                    "Do not copy the photos into the library");
  command->add_flag("--allow-departing", add->allow_departing,
                    "Add the item though it departs from the others");
  AddOutlineOptions(*command, *add);

  auto retire = std::make_shared<ChangeJob>();
  command = AddChange(refset, shared, job, "retire", "Take an item out of a set, with a reason",
                      retire, [](const refset::Library& library, ChangeJob& j) {
                        return refset::RetireItem(library, j.set_id, j.item_id, j.options, j.entry);
                      });
  command->add_option("--item", retire->item_id, "Id of the item, as `show` lists it")->required();
  AddOutlineOptions(*command, *retire);

  auto undo = std::make_shared<ChangeJob>();
  command = AddChange(refset, shared, job, "undo", "Make a revision equal to an earlier one", undo,
                      [](const refset::Library& library, ChangeJob& j) {
                        return refset::Undo(library, j.set_id, j.to, j.entry, j.options);
                      });
  command->add_option("--to", undo->to, "Number of that revision (default: the one before)")
      ->check(kRevisionRange);
  AddDropEdits(*command, *undo);

  auto adopt = std::make_shared<ChangeJob>();
  command =
      AddChange(refset, shared, job, "adopt", "Take outlines edited in a font editor", adopt,
                [](const refset::Library& library, ChangeJob& j) {
                  return refset::AdoptOutlines(library, j.set_id, j.outlines, j.options, j.entry);
                });
  command->add_option("--outlines", adopt->outlines,
                      "The edited UFO folder (default: glyphs/<set>.ufo)");
  AddDropEdits(*command, *adopt);
  AddPhotoOptions(*command, *adopt);

  auto* log = refset.add_subcommand("log", "Print the history of a set and check it");
  auto id = std::make_shared<std::string>();
  log->add_option("set", *id, "Id of the reference set")->required();
  log->callback([&job, &shared, id] { job = [&shared, id] { return RunLog(*id, shared); }; });
}

}  // namespace debossier::cli
