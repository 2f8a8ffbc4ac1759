#include <fmt/format.h>

#include <memory>

#include "base/files.h"
#include "cli/commands.h"
#include "compare/check_set.h"
#include "refset/remake.h"
#include "report/set_check.h"

namespace debossier::cli {

namespace {

struct CheckJob {
  std::string set_id;
  int revision = 0;
  double false_flag_rate = 0.005;
  std::string json;
  bool replace = false;
};

Result<std::string> RunCheck(const CheckJob& job, const Shared& shared) {
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
  if (!job.json.empty()) {
    const IfExists if_exists = job.replace ? IfExists::kReplace : IfExists::kRefuse;
    const auto written = WriteFileWhole(job.json, report::SetCheckJson(*check), if_exists, "cli");
    if (!written) return PassOn(written);
  }
  return report::SetCheckText(*check);
}

}  // namespace

void AddRefsetCheck(CLI::App& refset, const Shared& shared, Job& job) {
  auto* command = refset.add_subcommand(
      "check", "Hold a set's items against each other: one that does not belong, two dies");
  auto state = std::make_shared<CheckJob>();
  command->add_option("set", state->set_id, "Id of the reference set")->required();
  command->add_option("--revision", state->revision, "An earlier revision (default: the current)");
  command->add_option("--false-flag-rate", state->false_flag_rate,
                      "Chance of flagging a sound set, each for items and for two dies "
                      "(default 0.005)");
  command->add_option("--json", state->json, "Write the outcome here");
  command->add_flag("--replace", state->replace, "Replace an output that exists");
  command->callback(
      [&job, &shared, state] { job = [&shared, state] { return RunCheck(*state, shared); }; });
}

}  // namespace debossier::cli
