// What photos the last run that came to its end saw: format "debossier-batch-seen", version 1.
//
// A photo is new where its bytes, set or crop were not among them; its name does not count. A run
// that was stopped and one that goes on from there compare with the same earlier run, so that their
// overviews are the same.
// Not for: whether a photo must be done again; its record tells (record.h).
#pragma once

#include <filesystem>
#include <optional>
#include <set>
#include <string>

#include "batch/plan.h"
#include "batch/record.h"

namespace debossier::batch {

class Seen {
 public:
  /// Nothing where no earlier run came to its end, or the file cannot be read.
  static std::optional<Seen> Load(const std::filesystem::path& file);

  void Add(const Entry& entry, const Record& record);
  bool Contains(const Entry& entry, const Record& record) const;
  std::string Json() const;

 private:
  std::set<std::string> photos_;
};

}  // namespace debossier::batch
