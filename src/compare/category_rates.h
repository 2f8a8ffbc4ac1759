// What can be told of categories, by size and blur: how often genuine photos were said to show
// another letter, case, mark or frame, and how often photos that do show it were.
//
// A category has no known distribution, so both shares were counted, on simulated photos and
// degraded copies of them; category_rates.inc holds the counts and the command that makes them.
// Sizes: pixels of the height concerned (capitals of the line, the mark, the wordmark's capitals
// for a frame). Blur: standard deviation of the edges as a share of that height.
// Not for: seeing a category (categories.cpp, forms.cpp).
#pragma once

#include <span>
#include <string>
#include <vector>

#include "compare/comparison.h"

namespace debossier::compare {

inline constexpr int kSizeCells = 5;
inline constexpr int kBlurCells = 3;
/// 0 to kSizeCells - 1, from small to large.
int SizeCell(double size_px);
/// 0 to kBlurCells - 1, from sharp to blurred.
int BlurCell(double blur);
/// "20 to 32 px", "blur below 4 %".
std::string SizeCellInWords(int cell);
std::string BlurCellInWords(int cell);

/// Counts of one cell. A trial is one line, mark or frame of one photo.
struct CategoryRate {
  Category category;
  int size_cell;
  int blur_cell;
  int genuine;  ///< Trials that show the set's own, and how many of them were said to depart.
  int said_of_genuine;
  int departing;  ///< Trials of photos that show the departure,
  int flagged;    ///< those that were found to depart, for whatever reason,
  int named;      ///< and those of which the category itself was said.
};
std::span<const CategoryRate> CategoryRates();

/// What the counts allow at a size and a blur.
struct CategoryTelling {
  bool may_be_said = false;  ///< Genuine photos are not known to show it more often than allowed.
  bool would_show = false;   ///< At least half of the photos that have it are flagged.
  MeasuredShare genuine;     ///< The cell's counts.
  MeasuredShare departing;   ///< Those that are flagged.
};
/// From the nearest cells with enough photos, smaller sizes first, then larger, then more blurred;
/// neither said nor shown where there is none. `rate`: of the whole photo, of which categories have
/// a share together.
CategoryTelling TellingOf(Category category, double size_px, double blur, double rate);

/// All categories that a photo could show against this set, whether they were seen, and whether
/// they are said. `reasons`: what was seen, with categories; of what may not be said, signs go from
/// there to `untold`.
std::vector<CategoryTrial> JudgeCategories(const outline::Lettering& reference,
                                           const measure::Measurements& measured, double rate,
                                           std::vector<Reason>& reasons,
                                           std::vector<Reason>& untold);

/// What a reason of a category is about: a line's or mark's id, or "frame".
std::string SubjectOf(const Reason& reason);

/// What the photo would often not show, in words: "another mark, a missing frame"; empty for none.
std::string HiddenCategories(const std::vector<CategoryTrial>& trials,
                             const outline::Lettering& reference);

}  // namespace debossier::compare
