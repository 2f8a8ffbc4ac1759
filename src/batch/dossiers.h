// Items of a plan and their dossiers: format "debossier-batch-dossier", version 1, beside each.
//
// Each is made again only if a photo, its set, crop or notes, the options or the version changed,
// or somebody changed its files.
// Not for: what a dossier says or shows (report/dossier.h).
#pragma once

#include <atomic>
#include <map>
#include <string>
#include <vector>

#include "batch/plan.h"
#include "batch/record.h"
#include "batch/run_batch.h"
#include "report/dossier.h"

namespace debossier::batch {

/// The photos of one item, in the plan's order.
struct PlannedItem {
  std::string name;
  std::vector<const Entry*> entries;
};
/// In the order in which the plan first names them; photos without an item are in none.
/// @pre the plan outlives the result.
std::vector<PlannedItem> ItemsOf(const Plan& plan);

/// Reads an entry's photo; one that cannot be read says so in the result.
report::DossierPhoto ReadForDossier(const Entry& entry, const refset::RefSet& set);

/// All files about an item, the record first.
std::vector<std::filesystem::path> FilesOfDossier(const OutputFolder& out, const PlannedItem& item);

/// What is kept of a dossier that is done.
struct DossierRecord {
  std::string key;
  std::string finding;  ///< compare::Name() of it.
  std::string summary;
  std::string paper;
  std::string output_name;                   ///< Of its files, without extension.
  std::map<std::string, std::string> files;  ///< SHA-256 by extension: "json", "pdf".
  std::string why_not;                       ///< Where none could be made.
  bool reused = false;
};
using Dossiers = std::map<std::string, DossierRecord>;  ///< By item.

/// Makes the dossiers of all items of which every photo is done, into `dossiers/` of the output
/// folder; `sha256_of` gives the photos' hashes. Goes on until all is done or `stop` is true.
/// Refuses with kOutputNotWritable.
Result<Dossiers> MakeDossiers(const Plan& plan, const Sets& sets, const OutputFolder& out,
                              const BatchOptions& options,
                              const std::map<const Entry*, std::string>& sha256_of,
                              const std::atomic<bool>& stop);

}  // namespace debossier::batch
