#include <cstdio>
#include <memory>

#include "base/outputs.h"
#include "batch/plan.h"
#include "cli/commands.h"
#include "report/examine.h"
#include "results/text_summary.h"

namespace debossier::cli {

namespace {

struct CompareJob {
  std::string set_id;
  std::string photo;
  std::string pdf;
  std::string json;
  std::string crop;
  std::string paper = "a4";
  bool replace = false;
  int revision = 0;
  compare::CompareOptions options;
  ReportOptions report;
};

Result<std::string> RunCompare(const CompareJob& job, const Shared& shared) {
  report::ExamineOptions options;
  options.compare = job.options;
  options.pdf_policy = job.pdf.empty() ? report::PdfPolicy::kNone : report::PdfPolicy::kAll;
  if (job.paper == "letter") options.pdf.paper = report::Paper::kLetter;
  if (auto checked = options.compare.Check(); !checked) return PassOn(checked);
  auto fields = job.report.Fields();
  if (!fields) return PassOn(fields);
  options.pdf.fields = *std::move(fields);
  options.verified = std::make_shared<report::VerifiedPictures>(shared.Library());
  if (!job.crop.empty()) {
    auto crop = batch::ParseCrop(job.crop);
    if (!crop) return PassOn(crop);
    options.compare.place.crop = *crop;
  }
  const IfExists if_exists = job.replace ? IfExists::kReplace : IfExists::kRefuse;
  // Outputs are checked before the work, so that a refusal costs nothing.
  const bool to_stdout = job.json == "-";
  auto free = CheckOutputs({{"--json", to_stdout ? "" : job.json}, {"--pdf", job.pdf}}, {job.photo},
                           shared.KeptFolders(), if_exists, "cli");
  if (!free) return PassOn(free);
  auto set = refset::LoadSet(shared.Library(), job.set_id, job.revision);
  if (!set) return PassOn(set);
  auto photo = image::LoadPhoto(job.photo);
  if (!photo) return PassOn(photo);
  auto examined = report::Examine(*photo, *set, options);
  if (!examined) {
    Error error = examined.error();
    if (error.where == photo->file) error.where = job.photo;
    return Unexpected(std::move(error));
  }
  std::vector<FileToWrite> files;
  if (!job.json.empty() && !to_stdout) files.push_back({job.json, examined->json});
  if (!job.pdf.empty()) files.push_back({job.pdf, examined->pdf});
  if (auto written = WriteFilesWhole(files, if_exists, "cli"); !written) return PassOn(written);
  if (to_stdout) {
    std::fwrite(examined->json.data(), 1, examined->json.size(), stdout);
    return std::string();
  }
  return report::TextSummary(examined->comparison);
}

}  // namespace

void AddCompareOptions(CLI::App& command, compare::CompareOptions& options) {
  command.add_option(
      "--false-flag-rate", options.false_flag_rate,
      "Share of genuine photos that may be flagged, over everything that is looked for "
      "(default 0.005)");
  command.add_flag("--free-aspect", options.free_aspect,
                   "The photo's scale of x and y cannot be trusted (a squeezed scan): take the "
                   "ratio out and report it");
}

void AddCompare(CLI::App& app, const Shared& shared, Job& job) {
  auto* command =
      app.add_subcommand("compare", "Compare one photo with a reference set and say what departs");
  auto state = std::make_shared<CompareJob>();
  command->add_option("--set", state->set_id, "Id of the reference set")->required();
  command
      ->add_option("--revision", state->revision,
                   "An earlier revision of the set (default: the current one)")
      ->check(kRevisionRange);
  command
      ->add_option("--photo", state->photo, "The questioned photo (JPEG, PNG, TIFF, WebP or HEIC)")
      ->required();
  command->add_option("--pdf", state->pdf, "Write the report here");
  command->add_option("--json", state->json,
                      "Write the result for other programs here; - is standard output");
  command->add_flag("--replace", state->replace, "Replace outputs that exist");
  command->add_option("--crop", state->crop, "Look only here: x,y,width,height in photo pixels");
  command->add_option("--paper", state->paper, "Paper of the report: a4 or letter")
      ->check(CLI::IsMember({"a4", "letter"}));
  AddCompareOptions(*command, state->options);
  AddScaleOptions(*command, state->options.scale);
  state->report.AddTo(*command, true);
  command->callback(
      [&job, &shared, state] { job = [&shared, state] { return RunCompare(*state, shared); }; });
}

}  // namespace debossier::cli
