// Measured values with their standard uncertainty.
//
// Terms follow the VIM (JCGM 200) and the GUM (JCGM 100): u is a standard uncertainty (k = 1).
#pragma once

#include <cmath>

namespace debossier {

/// A measured value and its standard uncertainty (k = 1), both in the measurand's unit.
struct Measured {
  double value = 0;
  double u = 0;
};

/// Root sum of squares of independent standard uncertainties (GUM 5.1.2).
inline double Combine(double a, double b) { return std::hypot(a, b); }
inline double Combine(double a, double b, double c) { return std::hypot(a, b, c); }

}  // namespace debossier
