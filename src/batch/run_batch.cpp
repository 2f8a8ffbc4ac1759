#include "batch/run_batch.h"

#include <fmt/format.h>

#include <exception>
#include <mutex>
#include <new>
#include <optional>
#include <thread>
#include <unordered_map>

#include "base/files.h"
#include "batch/dossiers.h"
#include "batch/output_folder.h"
#include "batch/overview.h"
#include "batch/seen.h"
#include "report/thumbnail.h"

namespace debossier::batch {

namespace {

/// Largest file that image::LoadPhoto accepts.
constexpr std::uint64_t kLargestPhoto = image::LoadOptions{}.max_file_bytes;

Result<std::monostate> Write(const std::filesystem::path& path, const std::string& bytes) {
  return WriteFileWhole(path, bytes, IfExists::kReplace, "batch");
}

// True where the record holds for today's photo, set and options, with the report that is asked
// for.
bool IsCurrent(const Record& record, const std::string& key,
               const report::ExamineOptions& options) {
  if (record.key != key) return false;
  const bool wants_pdf =
      record.outcome == Outcome::kCompared && report::WantsPdf(options.pdf_policy, record.finding);
  return !wants_pdf || record.pdf == Name(options.pdf.paper);
}

Result<std::monostate> WriteFiles(const OutputFolder& out, const Entry& entry,
                                  const image::Photo& photo,
                                  const Result<report::Examined>& examined,
                                  const report::ExamineOptions& options, Record& record) {
  const std::string svg =
      examined ? report::ThumbnailSvg(photo, examined->comparison) : report::ThumbnailSvg(photo);
  std::vector<FileToWrite> files = {{out.Thumbnail(entry), svg}};
  record.thumbnail = true;
  if (examined) {
    files.push_back({out.Json(entry), examined->json});
    if (!examined->pair_svg.empty()) {
      files.push_back({out.Pair(entry), examined->pair_svg});
      record.pair = true;
    }
    if (!examined->pdf.empty()) {
      files.push_back({out.Pdf(entry), examined->pdf});
      record.pdf = Name(options.pdf.paper);
    }
  }
  for (const auto& [path, bytes] : files) {
    record.files[path.parent_path().filename().string()] = Sha256Hex(bytes);
  }
  return WriteFilesWhole(files, IfExists::kReplace, "batch");
}

struct Done {
  Record record;
  bool reused = false;
};

// Compares one photo and writes its files, or finds that this was done. Refuses only where an
// output cannot be written; what is wrong with the photo stands in the record.
Result<Done> DoOne(const Entry& entry, const LoadedSet& set, const OutputFolder& out,
                   const report::ExamineOptions& options) {
  Done done;
  Record& record = done.record;
  auto bytes = LoadFile(entry.path, kLargestPhoto, "image");
  if (!bytes) {
    Fill(bytes.error(), record);
    return done;
  }
  record.sha256 = Sha256Hex(*bytes);
  report::ExamineOptions own = options;
  own.wants_pair = true;
  if (!entry.item.empty()) own.pdf.fields.item = entry.item;
  record.key = KeyOf(record.sha256, set, entry.crop, own.compare, own.pdf.fields);
  if (auto known = out.Load(entry); known && IsCurrent(*known, record.key, options)) {
    return Done{*std::move(known), true};
  }
  if (!entry.crop.empty()) {
    const auto crop = ParseCrop(entry.crop);
    if (!crop) return PassOn(crop);
    own.compare.place.crop = *crop;
  }
  // Old files must not stand beside a new record, the record first: what is left of a kill here is
  // done again.
  std::error_code ignored;
  for (const auto& file : out.FilesOf(entry)) std::filesystem::remove(file, ignored);
  auto photo = image::PhotoFromBytes(*std::move(bytes), entry.path.filename().string());
  if (!photo) {
    Fill(photo.error(), record);
  } else {
    record.width = photo->bgr.cols;
    record.height = photo->bgr.rows;
    auto examined = report::Examine(*photo, set.set, own);
    if (examined) {
      Fill(examined->comparison, record);
    } else {
      Fill(examined.error(), record);
    }
    auto written = WriteFiles(out, entry, *photo, examined, own, record);
    if (!written) return PassOn(written);
  }
  if (record.outcome == Outcome::kFailed) return done;
  auto written = Write(out.RecordOf(entry), RecordJson(record));
  if (!written) return PassOn(written);
  return done;
}

// A library that throws costs one photo, not the batch.
Result<Done> DoOneSafely(const Entry& entry, const LoadedSet& set, const OutputFolder& out,
                         const report::ExamineOptions& options) {
  Error error{ErrorCode::kInternal, "batch", "", "", "report this photo and set as a fault"};
  try {
    return DoOne(entry, set, out, options);
  } catch (const std::bad_alloc&) {
    error.message = "there was not enough memory for this photo";
    error.hint = "give a smaller photo, or fewer worker threads with --jobs";
  } catch (const std::exception& e) {
    error.message = fmt::format("internal error: {}", e.what());
  }
  Done done;
  Fill(error, done.record);
  return done;
}

// What the workers share.
class Run {
 public:
  Run(const Plan& plan, const Sets& sets, const OutputFolder& out, const BatchOptions& options,
      const std::atomic<bool>& stop, const OnStep& on_step)
      : plan_(plan), sets_(sets), out_(out), options_(options), stop_(stop), on_step_(on_step) {
    outcomes_.resize(plan.entries.size(), Outcome::kNotDone);
    tally_.total = plan.entries.size();
  }

  void Work() {
    while (!stop_ && !broken_) {
      const std::size_t idx = next_++;
      if (idx >= plan_.entries.size()) return;
      const Entry& entry = plan_.entries[idx];
      auto done = DoOneSafely(entry, sets_.at(entry.set), out_, options_.examine);
      const std::lock_guard lock(mutex_);
      if (!done) {
        if (!error_) error_ = done.error();
        broken_ = true;
        return;
      }
      outcomes_[idx] = done->record.outcome;
      sha256_of_[&entry] = done->record.sha256;
      tally_.reused += done->reused;
      if (done->record.outcome == Outcome::kFailed) failed_[idx] = done->record;
      if (on_step_) on_step_({entry, done->record, done->reused});
    }
  }

  const std::optional<Error>& error() const { return error_; }

  // From the disk again, so that the records of all photos never are in memory together.
  Record RecordAt(std::size_t idx) const {
    Record record;
    record.outcome = outcomes_[idx];
    if (record.outcome == Outcome::kNotDone) return record;
    if (record.outcome == Outcome::kFailed) return failed_.at(idx);
    auto known = out_.Load(plan_.entries[idx]);
    if (known) return *std::move(known);
    Fill(Error{ErrorCode::kInternal, "batch", "", "its files vanished from the output folder",
               "run the batch again"},
         record);
    return record;
  }

  void Count(const Entry& entry, const Record& r) {
    tally_.compared += r.outcome == Outcome::kCompared;
    tally_.refused += r.outcome == Outcome::kRefused;
    tally_.failed += r.outcome == Outcome::kFailed;
    tally_.not_done += r.outcome == Outcome::kNotDone;
    if (r.outcome == Outcome::kCompared) {
      tally_.departs += r.finding == compare::Finding::kDeparts;
      tally_.no_departure_found += r.finding == compare::Finding::kNoDepartureFound;
      tally_.cannot_tell += r.finding == compare::Finding::kCannotTell;
    } else if (r.outcome != Outcome::kNotDone) {
      tally_.left_out.push_back({entry.name, entry.line, r.outcome, r.message, r.hint});
    }
  }
  const Tally& tally() const { return tally_; }
  /// Of the photos that were looked at, whatever came of it.
  const std::map<const Entry*, std::string>& sha256_of() const { return sha256_of_; }

 private:
  const Plan& plan_;
  const Sets& sets_;
  const OutputFolder& out_;
  const BatchOptions& options_;
  const std::atomic<bool>& stop_;
  const OnStep& on_step_;
  std::atomic<std::size_t> next_{0};
  std::atomic<bool> broken_{false};
  std::mutex mutex_;
  std::optional<Error> error_;
  std::vector<Outcome> outcomes_;
  std::unordered_map<std::size_t, Record> failed_;
  std::map<const Entry*, std::string> sha256_of_;
  Tally tally_;
};

Result<std::monostate> WriteOverview(const Plan& plan, const OutputFolder& out,
                                     const BatchOptions& options, const Dossiers& dossiers,
                                     Run& run) {
  const std::optional<Seen> before = Seen::Load(out.Seen());
  Seen now;
  Overview overview(options.examine);
  if (options.dossiers) overview.SetDossiers(dossiers);
  for (std::size_t i = 0; i < plan.entries.size(); ++i) {
    const Entry& entry = plan.entries[i];
    const Record record = run.RecordAt(i);
    run.Count(entry, record);
    const bool is_new =
        record.outcome != Outcome::kNotDone && before && !before->Contains(entry, record);
    overview.Add(entry, record, is_new);
    now.Add(entry, record);
  }
  if (auto written = Write(out.Csv(), overview.Csv()); !written) return written;
  if (auto written = Write(out.Index(), overview.Html()); !written) return written;
  // Last, so that a run that is killed before compares with the same earlier run again.
  if (run.tally().not_done > 0) return std::monostate{};
  return Write(out.Seen(), now.Json());
}

void Count(const Dossiers& dossiers, Tally& tally) {
  for (const auto& [item, record] : dossiers) {
    if (record.why_not.empty()) {
      ++tally.dossiers;
      tally.dossiers_reused += record.reused ? 1 : 0;
    } else {
      tally.without_dossier.emplace_back(item, record.why_not);
    }
  }
}

}  // namespace

Result<std::monostate> BatchOptions::Check() const {
  if (auto checked = examine.compare.Check(); !checked) return checked;
  if (jobs < 1 || jobs > 256) {
    return Refuse(ErrorCode::kUsage, "batch", "jobs", "is out of range", "give 1 to 256");
  }
  return std::monostate{};
}

Result<Sets> LoadSets(const refset::Library& library, const Plan& plan) {
  Sets sets;
  for (const Entry& entry : plan.entries) {
    if (sets.contains(entry.set)) continue;
    auto set = refset::LoadSet(library, entry.set);
    if (!set) {
      Error error = set.error();
      if (entry.line > 0) error.message += fmt::format("; line {} names it", entry.line);
      return Unexpected(std::move(error));
    }
    sets.emplace(entry.set, WithFingerprint(*std::move(set)));
  }
  return sets;
}

Result<Tally> RunBatch(const Plan& plan, const Sets& sets, const std::filesystem::path& folder,
                       const BatchOptions& options, const std::atomic<bool>& stop,
                       const OnStep& on_step) {
  if (auto checked = options.Check(); !checked) return PassOn(checked);
  const auto lock = TakeFolder(folder);
  if (!lock) return PassOn(lock);
  const OutputFolder out{folder};
  Run run(plan, sets, out, options, stop, on_step);
  {
    std::vector<std::jthread> workers;
    const std::size_t count = std::min<std::size_t>(options.jobs, plan.entries.size());
    for (std::size_t i = 0; i < count; ++i) workers.emplace_back([&run] { run.Work(); });
  }
  if (run.error()) return Unexpected(*run.error());
  Dossiers dossiers;
  std::vector<std::filesystem::path> dossier_files;
  if (options.dossiers) {
    auto made = MakeDossiers(plan, sets, out, options, run.sha256_of(), stop);
    if (!made) return PassOn(made);
    dossiers = *std::move(made);
    for (const PlannedItem& item : ItemsOf(plan)) {
      const auto files = FilesOfDossier(out, item);
      dossier_files.insert(dossier_files.end(), files.begin(), files.end());
    }
  }
  if (!options.overview) return run.tally();
  if (auto written = WriteOverview(plan, out, options, dossiers, run); !written) {
    return PassOn(written);
  }
  Tally tally = run.tally();
  Count(dossiers, tally);
  if (options.dossiers) tally.dossiers_not_done = ItemsOf(plan).size() - dossiers.size();
  tally.of_others = out.OfOthers(plan.entries, dossier_files);
  return tally;
}

}  // namespace debossier::batch
