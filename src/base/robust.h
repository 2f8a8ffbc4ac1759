// Weights that let go of strays, and the spread of a list that strays do not widen.
//
// Residuals come divided by their standard deviation, so that a weight does not know units.
// Not for: the least squares they are used in, which differ in unknowns and priors.
#pragma once

#include <cmath>
#include <utility>
#include <vector>

#include "base/quantile.h"

namespace debossier {

/// Tukey's biweight of a residual `r`; the constant keeps 95 % of the efficiency of least squares
/// on normal residuals (Beaton and Tukey 1974; Holland and Welsch 1977).
inline double BiweightOf(double r) {
  constexpr double kTukey = 4.685;
  const double u = r / kTukey;
  return std::abs(u) < 1 ? (1 - u * u) * (1 - u * u) : 0;
}

/// The weight of `values` residuals that a multivariate t with `degrees` of freedom gives, from
/// their squared distance (Lange, Little and Taylor 1989).
inline double StudentWeightOf(double squared_distance, int values, double degrees) {
  return (degrees + values) / (degrees + squared_distance);
}

/// The standard deviation of a normal about 0 whose median distance from it is that of `residuals`;
/// 0 for an empty list. The factor is 1 over the normal's upper quartile (Hampel 1974).
inline double SigmaOf(std::vector<double> residuals) {
  constexpr double kNormal = 1.4826;
  for (double& r : residuals) r = std::abs(r);
  return kNormal * UpperMedian(std::move(residuals));
}

/// Where the middle of a list is and how far its values lie about it.
struct RobustSpread {
  double middle = 0;  ///< The median.
  double sigma = 0;   ///< SigmaOf() about it.
};

inline RobustSpread SpreadOf(std::vector<double> values) {
  const double middle = UpperMedian(values);
  for (double& v : values) v -= middle;
  return {middle, SigmaOf(std::move(values))};
}

}  // namespace debossier
