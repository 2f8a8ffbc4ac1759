// How far a batch is, in words: a bar for a terminal, lines for a log.
//
// Time left is what the photos compared by this run took on average, times those that are left to
// compare; photos that an earlier run did cost nothing and do not count on either side.
// Not for: writing anywhere; the caller prints the text. Control characters in names never reach a
// terminal.
#pragma once

#include <string>

#include "batch/run_batch.h"

namespace debossier::batch {

class Progress {
 public:
  /// `recorded`: how many of them an earlier run left a record of.
  explicit Progress(std::size_t total, std::size_t recorded = 0)
      : total_(total), recorded_(recorded) {}
  void Add(const Step& step);

  /// One line that fits in `columns`; the caller goes back to its start.
  std::string Bar(int columns, double seconds) const;
  /// "[12/400] bags/front.jpg: departs (about 3 min left)".
  std::string Line(const Step& step, double seconds) const;

 private:
  std::string TimeLeft(double seconds) const;

  std::size_t total_;
  std::size_t recorded_;
  std::size_t done_ = 0;
  std::size_t reused_ = 0;
  std::size_t departs_ = 0;
  std::size_t left_out_ = 0;
};

/// "40 s", "3 min", "2 h 10 min".
std::string Duration(double seconds);

/// What the end of a batch says: how many were compared, refused and failed, and why.
std::string EndInWords(const Tally& tally, const std::filesystem::path& out);

}  // namespace debossier::batch
