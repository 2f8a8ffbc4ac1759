// What a batch keeps of each photo it is done with: format "debossier-batch-record", version 3.
//
// A record is written last, after the photo's other files: where there is a record, all is there.
// Its key tells whether the photo, the set, the options or the program changed since, its hashes
// whether somebody changed the files.
// `batch.csv` and `index.html` are written from the records alone.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "batch/plan.h"
#include "report/examine.h"

namespace debossier::batch {

enum class Outcome { kCompared, kRefused, kFailed, kNotDone };
const char* Name(Outcome outcome);  ///< "compared", "refused", "failed", "not-done"

struct Record {
  Outcome outcome = Outcome::kNotDone;
  std::string key;
  std::string sha256;  ///< Of the photo's bytes.
  int width = 0;
  int height = 0;
  // Of a comparison.
  compare::Finding finding = compare::Finding::kCannotTell;
  std::string summary;
  std::string reason;             ///< The strongest one, in words.
  std::optional<double> largest;  ///< Largest departure, % of cap height.
  std::string largest_measure;    ///< What departs so far: "gap", "letter height"...
  double score = 0;
  double cap_height_px = 0;
  int refset_revision = 0;
  int refset_items = 0;
  bool refset_simulated = false;
  std::string maker;
  std::string period;
  std::string advice;  ///< What to photograph again, sentences on one line.
  std::string pdf;     ///< Paper of the report: "a4" or "letter"; empty: there is none.
  bool thumbnail = false;
  bool pair = false;  ///< There is a picture of it beside a verified item.
  /// SHA-256 of each file written about the photo, by its folder: "json", "pdf", "thumbnails",
  /// "pairs".
  std::map<std::string, std::string> files;
  // Of a refusal or failure.
  int code = 0;  ///< As the exit codes have it.
  std::string message;
  std::string hint;
};

/// A set with its fingerprint: a hash over all that the set holds, outlines too.
struct LoadedSet {
  refset::RefSet set;
  std::string fingerprint;
};
LoadedSet WithFingerprint(refset::RefSet set);

/// Hash over all that a comparison and its report depend on: the photo, the set, the crop, the
/// options, the report's fields, and the versions of the program and of the record.
std::string KeyOf(const std::string& photo_sha256, const LoadedSet& set, const std::string& crop,
                  const compare::CompareOptions& options, const report::ReportFields& fields = {});

std::string Name(report::Paper paper);  ///< "a4", "letter"

std::string RecordJson(const Record& record);
/// Nothing where the text is no record of this version: the photo is then done again.
std::optional<Record> ParseRecord(const std::string& json);

/// What the batch shows of a comparison, and of a refusal.
void Fill(const compare::Comparison& comparison, Record& record);
void Fill(const Error& error, Record& record);

/// The files of a batch. Those about a photo are named by Entry::output_name.
struct OutputFolder {
  std::filesystem::path folder;
  std::filesystem::path Json(const Entry& e) const;
  std::filesystem::path Pdf(const Entry& e) const;
  std::filesystem::path Thumbnail(const Entry& e) const;
  std::filesystem::path Pair(const Entry& e) const;
  std::filesystem::path RecordOf(const Entry& e) const;
  /// What photos the last run that came to its end saw.
  std::filesystem::path Seen() const { return folder / "seen.json"; }
  std::filesystem::path Csv() const { return folder / "batch.csv"; }
  std::filesystem::path Index() const { return folder / "index.html"; }

  /// The record on the disk, where it can be read and the files it tells of are as they were
  /// written.
  std::optional<Record> Load(const Entry& entry) const;
  /// All files about an entry, the record first.
  std::vector<std::filesystem::path> FilesOf(const Entry& entry) const;
  /// Files that are none of those about `entries` and none of `more`, relative to the folder and
  /// sorted: of an earlier run.
  std::vector<std::string> OfOthers(const std::vector<Entry>& entries,
                                    const std::vector<std::filesystem::path>& more) const;
};

}  // namespace debossier::batch
