// Order statistics of plain lists.
//
// Not for: weighted or streamed values.
#pragma once

#include <algorithm>
#include <cstddef>
#include <utility>
#include <vector>

namespace debossier {

/// The value at `share` (0 to 1) of the way from the smallest to the largest, the lower one between
/// two; 0 for an empty list.
inline double Quantile(std::vector<double> values, double share) {
  if (values.empty()) return 0;
  const auto at =
      values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), at, values.end());
  return *at;
}

/// The middle value, the mean of both where there are two; 0 for an empty list.
inline double Median(std::vector<double> values) {
  if (values.empty()) return 0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  if (values.size() % 2 == 1) return *middle;
  return 0.5 * (*middle + *std::max_element(values.begin(), middle));
}

/// The same, but the larger of two in the middle: a value that is there. Wherever a fit takes the
/// middle of what it sees; with the mean of both, clean photos came out worse (a median error of
/// .31 % of cap height for heights of lines, where .27 % is held).
inline double UpperMedian(std::vector<double> values) {
  if (values.empty()) return 0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace debossier
