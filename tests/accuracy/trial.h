// One die of the accuracy program: a set built by the product from simulated verified photos, then
// genuine and departing photos compared with it, every number held against the die's own.
//
// Frame of errors: cap heights of the wordmark. "Truth" of a length is the die's, with its edges
// moved outward by the mean gain of the set's photos: no photo shows a die without stroke gain, so
// a set's outlines hold its mean, and measured numbers are relative to it.
// Not for: real photographs.
#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "accuracy/dies.h"
#include "compare/comparison.h"
#include "image/photo.h"
#include "refset/refset.h"
#include "simulate/simulate.h"

namespace debossier::accuracy {

/// What is photographed beside genuine items.
struct Change {
  std::string name;   ///< "genuine", a departure, or a nuisance that no finding may rest on.
  double amount = 0;  ///< Of a departure.
  bool is_departure = false;
  double target = 0;  ///< Share that should be found (departures).
};

/// Names of degraded copies begin with this.
inline constexpr const char* kCopy = "copy: ";

/// Every change of the table of findings, and the nuisances.
const std::vector<Change>& Changes();

/// What the verified photos behind the sets are.
enum class VerifiedPhotos {
  kPlain,
  kDegraded,  ///< Each by another of the degradations.
  kMixed,     ///< Every other one degraded.
};

/// How hard photos are to read.
struct Taking {
  simulate::Level level = simulate::Level::kTypical;
  double least_cap_px = 80;
  double most_cap_px = 140;
};

struct PhotoRow;

/// A photo that was compared or refused, for another method that is held beside this one.
struct SeenPhoto {
  const image::Photo& photo;
  const simulate::Truth& truth;
  const refset::RefSet& set;
  const outline::Lettering& die;  ///< Without the departures.
  double gain = 0;                ///< Of the set's outlines, as in TrueValue().
  const PhotoRow& row;
  double seconds = 0;  ///< That the comparison took.
};

struct TrialOptions {
  std::function<void(const SeenPhoto&)> beside;  ///< Called on the die's thread; may be empty.
  Taking questioned;
  Taking behind_sets;  ///< The verified photos' own.
  std::vector<int> set_sizes{6, 3};
  int genuine = 10;               ///< Photos a die.
  int departing = 1;              ///< Photos a die and change.
  std::vector<std::string> only;  ///< Changes by name; empty: all.
  std::uint64_t seed = 1;
  bool blind = false;                                            ///< Without foil.
  outline::LineCase origin_case = outline::LineCase::kCapitals;  ///< Of the dies' origin lines.
  VerifiedPhotos verified = VerifiedPhotos::kPlain;
  bool copies = false;         ///< Degraded copies of every genuine photo too.
  bool categories = false;     ///< And of photos of what a category is about.
  std::filesystem::path keep;  ///< Existing folder that gets every photo and its truth; or empty.
};

/// What is said of the case of a line that is set in another case than the set's.
enum class CaseNamed { kNotAsked, kRight, kUntold, kWrong };

/// One photo compared with one set.
struct PhotoRow {
  int die = 0;
  int set_size = 0;
  std::string change;
  double amount = 0;
  std::uint64_t seed = 0;
  std::string leather;
  std::string finish;
  double cap_px = 0;
  bool compared = false;  ///< False: refused.
  std::string refusal;
  std::string finding;
  double score = 0;
  std::string reason;           ///< First reason's measure.
  bool reason_is_true = false;  ///< It is about what was changed.
  bool mark_found = false;
  std::optional<double> mark_gap_error;  ///< Against the changed die's, where the mark was moved.
  double place_error = -1;  ///< Largest error of a found element's middle, cap heights; -1: none.
  int unplaced = 0;         ///< Elements not found.
  int falsely_sure = 0;     ///< Elements off by more than 5 % of cap height at a u below 1 %.
  int cases_right = 0;
  int cases_wrong = 0;
  int cases_untold = 0;
  bool line_cases_right = true;
  CaseNamed case_named = CaseNamed::kNotAsked;
};

/// One measured number of one photo.
struct MeasureRow {
  std::size_t photo = 0;  ///< Index of its PhotoRow.
  std::string measure;
  std::string what;
  bool has_truth = false;
  double error = 0;       ///< Against the truth as pressed (see above).
  double bare_error = 0;  ///< Against the die without gain.
  double u = 0;
  double z = 0;  ///< Against the set.
};

/// One sentence tried on one photo.
struct SentenceRow {
  std::size_t photo = 0;
  std::string key;
  std::string measure;
  bool of_first_line = true;
  double amplitude = 0;
  double u = 0;
  double z = 0;
  double level = 0;
  double limit = 0;
  std::optional<double> p;
};

/// One category on one photo.
struct CategoryRow {
  std::size_t photo = 0;
  compare::CategoryTrial trial;
  bool departs = false;  ///< The die was changed so.
  bool flagged = false;  ///< The photo departs, or would if every category could be said.
};

struct SetRow {
  int die = 0;
  int set_size = 0;
  bool built = false;
  std::string refusal;
  double outline_rms = 0;  ///< Traced outline against the die's, position, size and gain taken out.
  double worst_letter = 0;  ///< The same of its worst letter.
};

struct TrialResult {
  std::vector<SetRow> sets;
  std::vector<PhotoRow> photos;
  std::vector<MeasureRow> measures;
  std::vector<SentenceRow> sentences;
  std::vector<CategoryRow> categories;
};

/// Everything of one die. Refuses where a font is missing.
Result<TrialResult> RunDie(int die_idx, const TrialOptions& options);

}  // namespace debossier::accuracy
