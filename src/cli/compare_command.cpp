#include <memory>

#include "base/files.h"
#include "cli/commands.h"
#include "compare/compare_photo.h"
#include "report/overlay_pdf.h"
#include "report/result_json.h"
#include "report/text_summary.h"

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
};

Result<std::string> RunCompare(const CompareJob& job, const Shared& shared) {
  compare::CompareOptions options = job.options;
  if (auto checked = options.Check(); !checked) return PassOn(checked);
  if (!job.crop.empty()) {
    auto crop = ParseCrop(job.crop);
    if (!crop) return PassOn(crop);
    options.place.crop = *crop;
  }
  const IfExists if_exists = job.replace ? IfExists::kReplace : IfExists::kRefuse;
  // Outputs are checked before the work, so that a refusal costs nothing.
  for (const std::string& out : {job.json, job.pdf}) {
    if (out.empty()) continue;
    if (auto checked = CheckWritable(out, if_exists, "cli"); !checked) return PassOn(checked);
  }
  auto set = refset::LoadSet(shared.Library(), job.set_id, job.revision);
  if (!set) return PassOn(set);
  auto photo = image::LoadPhoto(job.photo);
  if (!photo) return PassOn(photo);
  auto comparison = compare::ComparePhoto(*photo, *set, options);
  if (!comparison) {
    Error error = comparison.error();
    if (error.where == photo->file) error.where = job.photo;
    return Unexpected(std::move(error));
  }
  if (!job.json.empty()) {
    auto written = WriteFileWhole(job.json, report::ResultJson(*comparison), if_exists, "cli");
    if (!written) return PassOn(written);
  }
  if (!job.pdf.empty()) {
    report::PdfOptions pdf;
    if (job.paper == "letter") pdf.paper = report::Paper::kLetter;
    auto bytes = report::OverlayPdf(*comparison, *photo, pdf);
    if (!bytes) return PassOn(bytes);
    auto written = WriteFileWhole(job.pdf, *bytes, if_exists, "cli");
    if (!written) return PassOn(written);
  }
  return report::TextSummary(*comparison);
}

}  // namespace

void AddCompare(CLI::App& app, const Shared& shared, Job& job) {
  auto* command =
      app.add_subcommand("compare", "Compare one photo with a reference set and say what departs");
  auto state = std::make_shared<CompareJob>();
  command->add_option("--set", state->set_id, "Id of the reference set")->required();
  command->add_option("--revision", state->revision,
                      "An earlier revision of the set (default: the current one)");
  command->add_option("--photo", state->photo, "The questioned photo (JPEG, PNG, TIFF or WebP)")
      ->required();
  command->add_option("--pdf", state->pdf, "Write the report here");
  command->add_option("--json", state->json, "Write the result for other programs here");
  command->add_flag("--replace", state->replace, "Replace outputs that exist");
  command->add_option("--crop", state->crop, "Look only here: x,y,width,height in photo pixels");
  command->add_option("--paper", state->paper, "Paper of the report: a4 or letter")
      ->check(CLI::IsMember({"a4", "letter"}));
  command->add_option("--false-flag-rate", state->options.false_flag_rate,
                      "Share of genuine photos that may be flagged, over all features together "
                      "(default 0.005)");
  command->add_option("--undecidable-limit", state->options.undecidable_limit,
                      "A feature that would only show a departure larger than this many cap "
                      "heights is not told (default 0.15)");
  command->add_flag("--free-aspect", state->options.free_aspect,
                    "The photo's scale of x and y cannot be trusted (a squeezed scan): take the "
                    "ratio out and report it");
  command->callback(
      [&job, &shared, state] { job = [&shared, state] { return RunCompare(*state, shared); }; });
}

}  // namespace debossier::cli
