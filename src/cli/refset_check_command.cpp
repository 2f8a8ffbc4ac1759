#include <fmt/format.h>

#include <cstdio>
#include <memory>

#include "base/outputs.h"
#include "cli/commands.h"
#include "compare/check_set.h"
#include "refset/remake.h"
#include "report/proof_pdf.h"
#include "results/set_check.h"

namespace debossier::cli {

namespace {

constexpr const char* kAllowHint =
    "leave out what does not belong; --allow-departing makes the change all the same";

struct CheckJob {
  std::string set_id;
  int revision = 0;
  double false_flag_rate = 0.005;
  std::string output;
  std::string paper = "a4";
  bool replace = false;
};

IfExists Mode(const CheckJob& job) { return job.replace ? IfExists::kReplace : IfExists::kRefuse; }

Result<std::monostate> CheckFree(const char* option, const CheckJob& job, const Shared& shared) {
  if (job.output == "-") return std::monostate{};
  return CheckOutputs({{option, job.output}}, {}, shared.KeptFolders(), Mode(job), "cli");
}

Result<std::string> RunCheck(const CheckJob& job, const Shared& shared) {
  if (auto free = CheckFree("--json", job, shared); !free) return PassOn(free);
  const refset::Library library = shared.Library();
  const auto set = refset::LoadSet(library, job.set_id, job.revision);
  if (!set) return PassOn(set);
  // What the set's numbers rest on has to be there, unchanged.
  if (const auto history = refset::History(library, job.set_id); !history) return PassOn(history);
  for (const auto& item : set->items) {
    if (item.photo_kept.empty()) continue;
    if (auto kept = refset::PhotoOfItem(library, *set, item, {}); !kept) return PassOn(kept);
  }
  const auto check = compare::CheckSet(*set, job.false_flag_rate);
  if (!check) return PassOn(check);
  const std::string json = report::SetCheckJson(*check);
  if (job.output == "-") {
    std::fwrite(json.data(), 1, json.size(), stdout);
    return std::string();
  }
  if (!job.output.empty()) {
    auto written = WriteFileWhole(job.output, json, Mode(job), "cli");
    if (!written) return PassOn(written);
  }
  return report::SetCheckText(*check);
}

Result<std::string> RunProof(const CheckJob& job, const Shared& shared) {
  if (auto free = CheckFree("--pdf", job, shared); !free) return PassOn(free);
  const auto set = refset::LoadSet(shared.Library(), job.set_id, job.revision);
  if (!set) return PassOn(set);
  const auto check = compare::CheckSet(*set, job.false_flag_rate);
  if (!check) return PassOn(check);
  report::PdfOptions options;
  if (job.paper == "letter") options.paper = report::Paper::kLetter;
  const auto pdf = report::ProofPdf(*set, *check, options);
  if (!pdf) return PassOn(pdf);
  if (auto written = WriteFileWhole(job.output, *pdf, Mode(job), "cli"); !written) {
    return PassOn(written);
  }
  return report::VerdictInWords(*check) + "\n";
}

void AddCommon(CLI::App& command, const std::shared_ptr<CheckJob>& state) {
  command.add_option("set", state->set_id, "Id of the reference set")->required();
  command.add_option("--revision", state->revision, "An earlier revision (default: the current)")
      ->check(kRevisionRange);
  command.add_option("--false-flag-rate", state->false_flag_rate,
                     "Chance of flagging a sound set, each for items and for two dies "
                     "(default 0.005)");
  command.add_flag("--replace", state->replace, "Replace an output that exists");
}

}  // namespace

Result<std::monostate> CheckPhotos(const std::vector<const image::Photo*>& photos,
                                   const refset::RefSet& set) {
  for (const image::Photo* photo : photos) {
    const auto compared = compare::ComparePhoto(*photo, set, {});
    // What cannot be compared is refused, with its reason, where its item is measured.
    if (!compared || compared->finding != compare::Finding::kDeparts) continue;
    return Refuse(ErrorCode::kItemsDoNotAgree, "refset", photo->file,
                  "departs from the other items: " + compared->reasons.front().text, kAllowHint);
  }
  return std::monostate{};
}

Result<std::string> CheckNewItems(const refset::RefSet& set, bool allow_departing) {
  const auto check = compare::CheckSet(set);
  if (!check) return PassOn(check);
  const std::string verdict = report::VerdictInWords(*check);
  if (check->is_consistent() || allow_departing) return "Check: " + verdict + "\n";
  std::string where = set.id;
  std::string why;
  for (const auto& item : check->items) {
    if (item.belongs) continue;
    for (const auto& of : set.items) {
      if (of.id == item.item) where = of.photo_file;
    }
    if (!item.reasons.empty()) why = " " + item.reasons.front().text;
    break;
  }
  return Refuse(ErrorCode::kItemsDoNotAgree, "refset", where, verdict + why, kAllowHint);
}

void AddRefsetCheck(CLI::App& refset, const Shared& shared, Job& job) {
  auto* command = refset.add_subcommand(
      "check", "Hold a set's items against each other: one that does not belong, two dies");
  auto state = std::make_shared<CheckJob>();
  AddCommon(*command, state);
  command->add_option("--json", state->output, "Write the outcome here; - is standard output");
  command->callback(
      [&job, &shared, state] { job = [&shared, state] { return RunCheck(*state, shared); }; });

  auto* proof = refset.add_subcommand(
      "proof", "Write a set's proof sheet: outlines, items, spread, what it can show");
  auto sheet = std::make_shared<CheckJob>();
  AddCommon(*proof, sheet);
  proof->add_option("--pdf", sheet->output, "Write the sheet here")->required();
  proof->add_option("--paper", sheet->paper, "Paper: a4 or letter")
      ->check(CLI::IsMember({"a4", "letter"}));
  proof->callback(
      [&job, &shared, sheet] { job = [&shared, sheet] { return RunProof(*sheet, shared); }; });
}

}  // namespace debossier::cli
