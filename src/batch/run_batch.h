// Runs a plan on worker threads, goes on where an earlier run ended, and writes the overview.
//
// Each worker holds one photo at a time, so that memory does not grow with the number of photos. A
// photo's files are written whole, its record last; a run that is killed at any moment leaves
// finished photos and nothing half-written but temporary files, which the next run removes.
// One bad photo never stops the rest; an output that cannot be written does.
// The overview does not depend on the number of workers, the clock, the locale or where the
// folders lie.
// Not for: two runs in one folder at once; the second is refused.
#pragma once

#include <atomic>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "base/result.h"
#include "batch/plan.h"
#include "batch/record.h"
#include "report/examine.h"

namespace debossier::batch {

struct BatchOptions {
  report::ExamineOptions examine;
  int jobs = 0;           ///< Worker threads, 1 to 256; no default.
  bool dossiers = false;  ///< One for each item that the plan names.
  bool overview = true;   ///< False: photos alone, another run writes what is over all of them.

  /// Refuses with kUsage, naming the option and its range.
  Result<std::monostate> Check() const;
};

/// The sets of a plan by id.
using Sets = std::map<std::string, LoadedSet>;

/// Loads each set that the plan names, once. Refuses as refset::LoadSet, naming the line of a
/// manifest.
Result<Sets> LoadSets(const refset::Library& library, const Plan& plan);

/// Told after each photo, by one thread at a time.
struct Step {
  const Entry& entry;
  const Record& record;
  bool reused = false;  ///< Done by an earlier run.
};
using OnStep = std::function<void(const Step&)>;

struct LeftOut {
  std::string name;
  int line = 0;
  Outcome outcome = Outcome::kRefused;
  std::string message;
  std::string hint;
};

struct Tally {
  std::size_t total = 0;
  std::size_t compared = 0;  ///< Those reused too.
  std::size_t departs = 0;
  std::size_t no_departure_found = 0;
  std::size_t cannot_tell = 0;
  std::size_t refused = 0;
  std::size_t failed = 0;
  std::size_t not_done = 0;
  std::size_t reused = 0;
  std::vector<LeftOut> left_out;  ///< In the plan's order; those refused or failed.
  std::size_t dossiers = 0;       ///< Made by this run or an earlier one.
  std::size_t dossiers_reused = 0;
  std::size_t dossiers_not_done = 0;
  std::vector<std::pair<std::string, std::string>> without_dossier;  ///< Item, and why.
  std::vector<std::string> of_others;  ///< Files in the output folder of photos not in the plan.
};

/// Runs until all is done or `stop` is true: photos in work are then finished, no others begun.
/// Refuses with kOutputExists (the folder holds other files), kNewerFormat or kOutputNotWritable.
Result<Tally> RunBatch(const Plan& plan, const Sets& sets, const std::filesystem::path& out,
                       const BatchOptions& options, const std::atomic<bool>& stop,
                       const OnStep& on_step);

}  // namespace debossier::batch
