// The desk's work folder: photos as they came in, a manifest of them, and the batch's results.
//
//   photos/0001-name.jpg ...   as received, byte for byte
//   manifest.csv               which photo, item and set, as `batch` reads it
//   results/                   the output folder of `batch`
//
// All that is known stands on the disk: a desk that was killed goes on from there, and so does
// `debossier batch manifest.csv --photos photos --out results`. One thread compares what waits.
// Safe to use from several threads.
// Not for: comparing (batch/run_batch.h), or speaking to a browser (server.h).
#pragma once

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "base/file_lock.h"
#include "base/result.h"
#include "batch/run_batch.h"
#include "refset/refset.h"

namespace debossier::desk {

/// A work folder holds at most this many photos.
inline constexpr std::size_t kMostPhotos = 5000;

/// What is known of a photo.
struct WorkPhoto {
  batch::Entry entry;
  std::string received_as;              ///< Its name where it came from.
  std::optional<batch::Record> record;  ///< Empty: it waits, or is in work.
};

class Work {
 public:
  /// Opens or makes a work folder, and goes on with what waits there. Refuses with
  /// kOutputNotWritable (also where another desk is at it), kManifestUnsound, or as
  /// batch::LoadSets.
  static Result<std::unique_ptr<Work>> Open(const std::filesystem::path& folder,
                                            const refset::Library& library,
                                            const batch::BatchOptions& options);
  ~Work();
  Work(const Work&) = delete;
  Work& operator=(const Work&) = delete;

  /// Takes a photo in, whatever it is; what is wrong with it stands in its record later. Refuses
  /// with kOverLimit (too many photos), kUsage (an item's name that is too long), kSetMissing and
  /// the like, kOutputNotWritable.
  Result<std::monostate> Add(const std::string& received_as, const std::string& bytes,
                             const std::string& set, const std::string& item);
  /// Lets the photos in work end and begins no others, until Resume().
  void Pause();
  void Resume();
  bool is_paused() const { return stop_; }

  std::vector<WorkPhoto> Photos() const;
  std::size_t count() const;
  /// Why nothing goes on any more; empty where all is well.
  std::string trouble() const;
  /// Grows with each change of what Photos() or trouble() say.
  std::uint64_t version() const;
  /// Waits until version() is beyond `seen`, or some seconds have gone; returns it.
  std::uint64_t WaitBeyond(std::uint64_t seen) const;

  std::filesystem::path results() const { return folder_ / "results"; }
  const refset::Library& library() const { return library_; }

 private:
  Work(std::filesystem::path folder, refset::Library library, batch::BatchOptions options,
       FileLock lock);
  Result<std::monostate> Load();
  void Go();  ///< The thread's life.
  void Run(const batch::Plan& plan, bool overview);
  Result<std::monostate> WriteManifest() const;  ///< Holding the mutex.
  void Changed();                                ///< Holding the mutex.

  const std::filesystem::path folder_;
  const refset::Library library_;
  const batch::BatchOptions options_;
  FileLock lock_;
  mutable std::mutex mutex_;
  mutable std::condition_variable changed_;
  std::vector<WorkPhoto> photos_;
  std::map<std::string, std::size_t> by_output_name_;
  batch::Sets sets_;
  std::string trouble_;
  std::uint64_t version_ = 1;
  bool overview_is_due_ = false;
  bool ends_ = false;
  std::atomic<bool> stop_{false};
  std::thread thread_;
};

}  // namespace debossier::desk
