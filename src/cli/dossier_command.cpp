#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <memory>

#include "base/files.h"
#include "base/outputs.h"
#include "batch/dossiers.h"
#include "batch/run_batch.h"
#include "cli/arguments.h"
#include "cli/commands.h"
#include "results/dossier_json.h"

namespace debossier::cli {

namespace {

struct DossierJob {
  std::vector<std::string> photos;
  std::string manifest;
  std::string photo_folder;
  std::string set_id;
  std::string pdf;
  std::string json;
  std::string observations;
  std::string paper = "a4";
  bool replace = false;
  compare::CompareOptions compare;
  ReportOptions report;
};

constexpr std::uint64_t kLongestObservations = 64 << 10;

Unexpected Wrong(const std::string& where, const std::string& message, const std::string& hint) {
  return Refuse(ErrorCode::kUsage, "cli", where, message, hint);
}

/// The photos given one by one, all of one set.
Result<batch::Plan> PlanOfPhotos(const DossierJob& job) {
  if (job.set_id.empty()) return Wrong("--set", "is missing", "name the set of these photos");
  batch::Plan plan;
  for (const std::string& photo : job.photos) {
    batch::Entry entry;
    entry.path = photo;
    entry.name = entry.path.filename().string();
    entry.set = job.set_id;
    entry.item = job.report.given.item;
    plan.entries.push_back(std::move(entry));
  }
  return plan;
}

/// One item's photos of a manifest.
Result<batch::Plan> PlanOfManifest(const DossierJob& job) {
  auto plan = batch::MakePlan(job.manifest, {job.set_id, job.photo_folder, {}, false});
  if (!plan) return plan;
  const auto items = batch::ItemsOf(*plan);
  std::vector<std::string> names;
  names.reserve(items.size());
  for (const auto& item : items) names.push_back(item.name);
  if (items.empty()) {
    return Wrong(job.manifest, "names no item", "fill the column item, or name photos by --photo");
  }
  const std::string& given = job.report.given.item;
  if (given.empty() && items.size() > 1) {
    return Wrong(job.manifest, fmt::format("names {} items", items.size()),
                 fmt::format("choose one by --item, such as --item \"{}\"", names.front()));
  }
  const std::string& wanted = given.empty() ? names.front() : given;
  if (std::find(names.begin(), names.end(), wanted) == names.end()) {
    const std::string nearest = Nearest(wanted, names);
    return Wrong(job.manifest, fmt::format("has no item \"{}\"", wanted),
                 nearest.empty() ? "give an item as the manifest writes it"
                                 : fmt::format("did you mean \"{}\"?", nearest));
  }
  std::erase_if(plan->entries, [&](const batch::Entry& e) { return e.item != wanted; });
  return plan;
}

Result<batch::Plan> PlanOf(const DossierJob& job) {
  if (job.photos.empty() == job.manifest.empty()) {
    return Wrong("dossier", job.photos.empty() ? "has no photos" : "has photos from two places",
                 "name photos by --photo, or a manifest by --manifest");
  }
  return job.manifest.empty() ? PlanOfPhotos(job) : PlanOfManifest(job);
}

Result<report::DossierOptions> OptionsOf(const DossierJob& job, const Shared& shared) {
  report::DossierOptions options;
  options.examine.compare = job.compare;
  options.examine.verified = std::make_shared<report::VerifiedPictures>(shared.Library());
  if (job.paper == "letter") options.examine.pdf.paper = report::Paper::kLetter;
  auto fields = job.report.Fields();
  if (!fields) return PassOn(fields);
  options.examine.pdf.fields = *std::move(fields);
  if (job.observations.empty()) return options;
  auto text = LoadFile(job.observations, kLongestObservations, "cli");
  if (!text) return PassOn(text);
  options.observations = *std::move(text);
  return options;
}

/// What the program ends with where photos were left out.
Result<std::string> EndOf(const compare::ItemComparison& item, std::string text) {
  const auto refused = std::count_if(item.photos.begin(), item.photos.end(),
                                     [](const auto& p) { return p.refusal.has_value(); });
  if (refused == 0) return text;
  std::fputs(text.c_str(), stdout);
  return Refuse(ErrorCode::kPhotosLeftOut, "cli", "",
                fmt::format("{} of {} photos could not be compared", refused, item.photos.size()),
                "the dossier says why");
}

Result<std::string> RunDossier(const DossierJob& job, const Shared& shared) {
  auto options = OptionsOf(job, shared);
  if (!options) return PassOn(options);
  auto plan = PlanOf(job);
  if (!plan) return PassOn(plan);
  if (options->examine.pdf.fields.item.empty()) {
    options->examine.pdf.fields.item = plan->entries.front().item;
  }
  std::vector<std::filesystem::path> inputs;
  for (const batch::Entry& e : plan->entries) inputs.push_back(e.path);
  if (!job.manifest.empty()) inputs.emplace_back(job.manifest);
  if (!job.observations.empty()) inputs.emplace_back(job.observations);
  const IfExists if_exists = job.replace ? IfExists::kReplace : IfExists::kRefuse;
  const bool to_stdout = job.json == "-";
  auto free = CheckOutputs({{"--json", to_stdout ? "" : job.json}, {"--pdf", job.pdf}}, inputs,
                           shared.KeptFolders(), if_exists, "cli");
  if (!free) return PassOn(free);
  auto sets = batch::LoadSets(shared.Library(), *plan);
  if (!sets) return PassOn(sets);
  std::vector<report::DossierPhoto> photos;
  for (const batch::Entry& e : plan->entries) {
    photos.push_back(batch::ReadForDossier(e, sets->at(e.set).set));
  }
  auto item = report::ExamineItem(photos, *options);
  if (!item) return PassOn(item);
  const bool none = std::none_of(item->photos.begin(), item->photos.end(),
                                 [](const auto& p) { return p.comparison.has_value(); });
  if (none) {
    Error error = *item->photos.front().refusal;
    if (error.where.empty()) error.where = item->photos.front().name;
    return Unexpected(std::move(error));
  }
  const std::string json = report::DossierJson(*item, options->observations);
  std::vector<FileToWrite> files;
  if (!job.json.empty() && !to_stdout) files.push_back({job.json, json});
  if (!job.pdf.empty()) {
    auto pdf = report::DossierPdf(*item, photos, *options);
    if (!pdf) return PassOn(pdf);
    files.push_back({job.pdf, *std::move(pdf)});
  }
  if (auto written = WriteFilesWhole(files, if_exists, "cli"); !written) return PassOn(written);
  if (to_stdout) {
    std::fwrite(json.data(), 1, json.size(), stdout);
    return EndOf(*item, "");
  }
  return EndOf(*item, report::DossierText(*item));
}

}  // namespace

void AddDossier(CLI::App& app, const Shared& shared, Job& job) {
  auto* command = app.add_subcommand(
      "dossier", "Compare several photos of one item and make one document of them");
  auto state = std::make_shared<DossierJob>();
  command->add_option("--photo", state->photos, "A photo of the item; once for each photo");
  command->add_option("--manifest", state->manifest,
                      "Take the photos of --item, their sets and crops from this CSV manifest, as "
                      "batch does");
  command->add_option("--photos", state->photo_folder,
                      "Folder of a manifest's photos (default: where the manifest lies)");
  command->add_option("--set", state->set_id, "Reference set of all photos that name none");
  command->add_option("--pdf", state->pdf, "Write the dossier here");
  command->add_option("--json", state->json,
                      "Write the result for other programs here; - is standard output");
  command->add_option(
      "--observations", state->observations,
      "Text file with what else was seen, of hardware, lining or stitching: printed "
      "as the examiner's own words, not judged");
  command->add_flag("--replace", state->replace, "Replace outputs that exist");
  command->add_option("--paper", state->paper, "Paper of the dossier: a4 or letter")
      ->check(CLI::IsMember({"a4", "letter"}));
  command->add_option(
      "--false-flag-rate", state->compare.false_flag_rate,
      "Share of genuine items that may be flagged, over all photos and everything that is looked "
      "for (default 0.005)");
  command->add_flag("--free-aspect", state->compare.free_aspect,
                    "The photos' scale of x and y cannot be trusted (squeezed scans): take the "
                    "ratio out and report it");
  AddCardOptions(*command, state->compare.scale);
  state->report.AddTo(*command, true);
  command->callback(
      [&job, &shared, state] { job = [&shared, state] { return RunDossier(*state, shared); }; });
}

}  // namespace debossier::cli
