#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cstdlib>
#include <memory>

#include "base/unicode.h"
#include "cli/commands.h"
#include "compare/set_model.h"
#include "image/photo.h"
#include "refset/create.h"
#include "refset/curate.h"
#include "typeset/font.h"

namespace debossier::cli {

namespace {

struct CreateJob {
  LetteringOptions lettering;
  std::vector<std::string> photos;
  std::string font;
  std::string origin_font;
  double origin_height = 0.4;
  double origin_below = 0.8;
  double tracking = 0;
  typeset::MarkSpec mark;
  refset::CreateOptions options;
  bool free_aspect = false;
  bool photos_not_kept = false;
  bool allow_departing = false;
  std::vector<refset::KeptPhoto> kept;
};

Result<refset::Created> FromPhotos(CreateJob& job) {
  auto spec = job.lettering.Spec();
  if (!spec) return PassOn(spec);
  std::vector<image::Photo> photos;
  for (const auto& path : job.photos) {
    auto photo = image::LoadPhoto(path);
    if (!photo) return PassOn(photo);
    photo->file = std::filesystem::path(path).filename().string();
    photos.push_back(std::move(*photo));
  }
  auto created = refset::CreateFromPhotos(photos, *spec, job.options);
  if (!created) {
    // The name inside the library is the file's; people know the path they gave.
    Error error = created.error();
    for (std::size_t i = 0; i < photos.size(); ++i) {
      if (error.where == photos[i].file) error.where = job.photos[i];
    }
    return Unexpected(std::move(error));
  }
  if (!job.allow_departing) {
    std::vector<const image::Photo*> all;
    all.reserve(photos.size());
    for (const image::Photo& photo : photos) all.push_back(&photo);
    if (auto checked = CheckPhotos(all, created->set); !checked) return PassOn(checked);
  }
  for (std::size_t i = 0; i < photos.size() && !job.photos_not_kept; ++i) {
    created->set.items[i].photo_kept = refset::KeptName(photos[i]);
    job.kept.push_back({refset::KeptName(photos[i]), std::move(photos[i].bytes)});
  }
  return created;
}

Result<refset::Created> FromFont(const CreateJob& job) {
  auto spec = job.lettering.Spec();
  if (!spec) return PassOn(spec);
  auto font = typeset::Font::Load(job.font);
  if (!font) return PassOn(font);
  Result<typeset::Font> origin = Refuse(ErrorCode::kInternal, "cli", "", "", "");
  if (!job.origin_font.empty()) {
    origin = typeset::Font::Load(job.origin_font);
    if (!origin) return PassOn(origin);
  }
  std::vector<typeset::LineSpec> lines;
  double baseline = 0;
  for (std::size_t i = 0; i < spec->lines.size(); ++i) {
    typeset::LineSpec line;
    line.id = spec->lines[i].id;
    line.text = spec->lines[i].text;
    line.tracking = job.tracking;
    if (i > 0) {
      line.height = job.origin_height;
      baseline -= job.origin_below;
    }
    line.baseline = baseline;
    lines.push_back(line);
  }
  typeset::MarkSpec mark = job.mark;
  mark.character = spec->mark;
  return refset::CreateFromFont(*font, origin ? &*origin : nullptr, lines, mark, {}, job.options);
}

/// Who enters the set, when, and on what basis: a set that is to be defended years later says so.
Result<std::monostate> CheckEntry(CreateJob& job) {
  refset::Labels& labels = job.options.labels;
  if (auto checked = refset::Entry{labels.entered_by, labels.entered_on, ""}.Check(); !checked) {
    return checked;
  }
  const std::size_t bases = job.options.bases.size();
  if (job.photos.empty() || bases == 1 || bases == job.photos.size()) return std::monostate{};
  return Refuse(ErrorCode::kUsage, "cli", "--basis",
                bases == 0 ? "the basis of verification is not given"
                           : fmt::format("{} are given for {} photos", bases, job.photos.size()),
                "give one for all photos, or one for each photo in their order");
}

Result<std::string> RunCreate(CreateJob& job, const Shared& shared) {
  if (job.photos.empty() == job.font.empty()) {
    return Refuse(ErrorCode::kUsage, "cli", "", "give either photos or a font",
                  "--photo FILE for each verified item, or --font FILE");
  }
  if (!refset::IsValidId(job.options.id)) {
    return Refuse(ErrorCode::kUsage, "cli", job.options.id, "cannot be the id of a reference set",
                  "use 1 to 64 letters a-z, figures, '-' and '_'");
  }
  std::error_code ignored;
  if (std::filesystem::exists(shared.Library().refsets() / job.options.id, ignored)) {
    // Of a create that was killed at its very end the copy to edit may be missing: looking at the
    // set puts it back.
    [[maybe_unused]] const auto there = refset::LoadSet(shared.Library(), job.options.id);
    return Refuse(ErrorCode::kOutputExists, "cli",
                  (shared.Library().refsets() / job.options.id).string(), "exists already",
                  "choose another id");
  }
  for (const auto& name : job.options.asks.essential) {
    const bool has = name == "mark" ? !job.lettering.mark.empty() : job.lettering.frame != "none";
    if (!has) {
      return Refuse(ErrorCode::kUsage, "cli", "--essential " + name, "the set has no " + name,
                    "give --" + name + " too, or leave it out");
    }
  }
  job.options.consensus.place.free_aspect = job.free_aspect;
  if (auto checked = CheckEntry(job); !checked) return PassOn(checked);
  auto created = job.photos.empty() ? FromFont(job) : FromPhotos(job);
  if (!created) return PassOn(created);
  created->set.library_spread =
      compare::SpreadOfLibrary(shared.Library(), created->set.id, created->set.simulated);
  const auto check = CheckNewItems(created->set, job.allow_departing);
  if (!check) return PassOn(check);
  auto written = refset::WriteNewSet(shared.Library(), created->set, job.kept);
  if (!written) return PassOn(written);
  std::string out = fmt::format(
      "Reference set {} revision {}: {} elements from {}.\n", created->set.id,
      created->set.revision, created->set.lettering.elements.size(),
      job.photos.empty()
          ? created->set.source
          : fmt::format("{} photo{}", job.photos.size(), job.photos.size() == 1 ? "" : "s"));
  if (!created->set.library_spread.sets.empty()) {
    out += fmt::format("Natural spread before items speak: from {}.\n",
                       fmt::join(created->set.library_spread.sets, ", "));
  }
  if (!created->set.items.empty()) out += *check;
  for (const auto& w : created->warnings) out += "Note: " + w.message + "\n";
  return out;
}

Result<std::string> RunList(const Shared& shared) {
  auto ids = refset::ListSets(shared.Library());
  if (!ids) return PassOn(ids);
  std::string out;
  for (const auto& id : *ids) {
    auto set = refset::LoadSet(shared.Library(), id);
    if (!set) {
      out += fmt::format("{}\tnot readable: {}\n", id, set.error().ToString());
      continue;
    }
    out +=
        fmt::format("{}\trevision {}\t{} item{}\t{}\t{}{}\n", id, set->revision, set->items.size(),
                    set->items.size() == 1 ? "" : "s", Visible(set->labels.maker),
                    Visible(set->labels.period), set->simulated ? "\t(invented, simulated)" : "");
  }
  return out;
}

std::string Given(const std::string& text) { return text.empty() ? "not given" : Visible(text); }

}  // namespace

std::string FontAgreementInWords(const refset::RefSet& set) {
  std::string out;
  for (const auto& item : set.items) {
    const refset::OutlineAgreement a = refset::AgreementWithOutlines(item);
    if (a.elements == 0) continue;
    out += fmt::format(
        "{} against the {}: 95 % of {} letters stand within {:.1f} % of cap height of their "
        "places, "
        "sizes within {:.1f} %\n",
        Visible(item.id), Visible(set.source), a.elements, 100 * a.places, 100 * a.sizes);
  }
  return out;
}

namespace {

Result<std::string> RunShow(const std::string& id, int revision, const Shared& shared) {
  auto set = refset::LoadSet(shared.Library(), id, revision);
  if (!set) return PassOn(set);
  std::string out = fmt::format(
      "{} revision {}\nmaker: {}\nperiod: {}\nsource: {}\nentered: {} by {}\n", set->id,
      set->revision, Visible(set->labels.maker), Visible(set->labels.period), Visible(set->source),
      Given(set->labels.entered_on), Given(set->labels.entered_by));
  if (!set->labels.notes.empty()) out += "notes: " + Visible(set->labels.notes) + "\n";
  out += fmt::format("asked of a photo: places to {:g} % of cap height, sizes to {:g} %\n",
                     100 * set->asks.place, 100 * set->asks.size);
  if (!set->asks.essential.empty()) {
    out += fmt::format("a photo must show: {}\n", fmt::join(set->asks.essential, ", "));
  }
  if (!set->library_spread.sets.empty()) {
    out += "natural spread before items speak: from ";
    for (std::size_t i = 0; i < set->library_spread.sets.size(); ++i) {
      out += (i > 0 ? ", " : "") + Visible(set->library_spread.sets[i]);
    }
    out += "\n";
  }
  if (set->outlines_edited) out += "outlines: edited by hand\n";
  for (const auto& l : set->lettering.lines) {
    out += fmt::format("line {}: \"{}\", cap height {:.3f}, x-height {:.3f}\n", Visible(l.id),
                       Visible(l.text), l.cap_height, l.x_height);
  }
  if (!set->mark.empty()) out += "mark: " + Visible(set->mark) + "\n";
  for (const auto& i : set->items) {
    out += fmt::format(
        "item {}: {} (sha256 {}{}), basis: {}, entered {} by {}, cap height {:.0f} px, blur "
        "{:.1f} px, foil on {:.0f} %\n",
        Visible(i.id), Visible(i.photo_file), Visible(i.photo_sha256),
        i.photo_kept.empty() ? ", not kept" : "", Given(i.basis), Given(i.entered_on),
        Given(i.entered_by), i.cap_height_px, i.blur_px, 100 * i.coverage);
  }
  if (set->source != "photos") out += FontAgreementInWords(*set);
  for (const auto& i : set->retired) {
    out += fmt::format("retired {}: {} (sha256 {}), on {} by {}: {}\n", Visible(i.id),
                       Visible(i.photo_file), Visible(i.photo_sha256), Visible(i.on), Visible(i.by),
                       Visible(i.reason));
  }
  return out;
}

void AddFontOptions(CLI::App& command, CreateJob& job) {
  command.add_option("--font", job.font, "Font file instead of photos");
  command.add_option("--origin-font", job.origin_font,
                     "Font of the lines after the first (default: the same)");
  command.add_option("--origin-height", job.origin_height,
                     "With a font: height of those lines in cap heights of the wordmark (0.4)");
  command.add_option("--origin-below", job.origin_below,
                     "With a font: distance from baseline to baseline in cap heights (0.8)");
  command.add_option("--tracking", job.tracking,
                     "With a font: space added after each letter, in cap heights (0)");
  command.add_option("--mark-size", job.mark.size, "With a font: height of the mark (0.35)");
  command.add_option("--mark-gap", job.mark.gap,
                     "With a font: from the last letter to the mark (0.15)");
  command.add_option("--mark-rise", job.mark.rise,
                     "With a font: foot of the mark over the baseline (0.65)");
}

void AddCreate(CLI::App& refset, const Shared& shared, Job& job) {
  auto* command = refset.add_subcommand(
      "create", "Build a reference set from photos of verified items, or from a font");
  auto state = std::make_shared<CreateJob>();
  command->add_option("--id", state->options.id, "Id of the new set: a-z, 0-9, '-' and '_'")
      ->required();
  state->lettering.AddTo(*command);
  command->add_option("--photo", state->photos, "Photo of a verified item; repeat for each")
      ->take_all();
  AddFontOptions(*command, *state);
  command
      ->add_option("--asked-place", state->options.asks.place,
                   "Smallest departure of a place, in cap heights, that a photo must be able to "
                   "show; else the answer is \"cannot tell\"")
      ->check(CLI::Range(0.001, 1.0))
      ->capture_default_str();
  command->add_option("--asked-size", state->options.asks.size, "The same of a size, as a share")
      ->check(CLI::Range(0.001, 1.0))
      ->capture_default_str();
  command
      ->add_option("--essential", state->options.asks.essential,
                   "mark or frame: a photo that does not show it is answered with \"cannot tell\"; "
                   "repeat for both")
      ->check(CLI::IsMember({"mark", "frame"}));
  command->add_option("--maker", state->options.labels.maker, "Label: the maker, any script");
  command->add_option("--period", state->options.labels.period, "Label: the period");
  command->add_option("--notes", state->options.labels.notes, "Notes for the curator");
  command
      ->add_option("--basis", state->options.bases,
                   "Basis of verification: one for all photos, or one for each")
      ->take_all();
  command->add_option("--by", state->options.labels.entered_by, "Who enters the set")
      ->envname("DEBOSSIER_CURATOR");
  command
      ->add_option("--on", state->options.labels.entered_on,
                   "Date of entry, for example 2026-05-01")
      ->envname("DEBOSSIER_DATE");
  command->add_flag("--allow-doubtful", state->options.allow_doubtful,
                    "Make the set though letters of it look like others or like none: for "
                    "ornamental lettering, after a look at the photos");
  command->add_flag("--allow-departing", state->allow_departing,
                    "Make the set though an item departs from the others, or they look like two "
                    "dies");
  command->add_flag("--simulated", state->options.simulated,
                    "Mark the set as invented: simulated photos, no real maker");
  command->add_flag("--photos-not-kept", state->photos_not_kept,
                    "Do not copy the photos into the library: a later change of items then asks "
                    "for them again");
  command->add_flag("--free-aspect", state->free_aspect,
                    "The photos' scale of x and y cannot be trusted (squeezed scans)");
  command->callback(
      [&job, &shared, state] { job = [&shared, state] { return RunCreate(*state, shared); }; });
}

}  // namespace

void AddRefset(CLI::App& app, const Shared& shared, Job& job) {
  auto* refset = app.add_subcommand("refset", "Build and look at reference sets");
  refset->require_subcommand(1);
  AddCreate(*refset, shared, job);
  auto* list = refset->add_subcommand("list", "List the library's reference sets");
  list->callback([&job, &shared] { job = [&shared] { return RunList(shared); }; });
  auto* show = refset->add_subcommand("show", "Show one reference set");
  auto id = std::make_shared<std::string>();
  show->add_option("set", *id, "Id of the reference set")->required();
  auto revision = std::make_shared<int>(0);
  show->add_option("--revision", *revision, "An earlier revision (default: the current one)")
      ->check(kRevisionRange);
  show->callback([&job, &shared, id, revision] {
    job = [&shared, id, revision] { return RunShow(*id, *revision, shared); };
  });
  AddRefsetChanges(*refset, shared, job);
  AddRefsetCheck(*refset, shared, job);
}

}  // namespace debossier::cli
