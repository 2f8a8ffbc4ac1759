// Lengths that do not mix, and measured values with their standard uncertainty.
//
// Px: photo pixels. Mm: millimetres on the leather. CapHeights: multiples of the cap height of
// the wordmark. Conversions are explicit and need a scale.
// Terms follow the VIM (JCGM 200) and the GUM (JCGM 100): u is a standard uncertainty (k = 1).
#pragma once

#include <cmath>
#include <compare>

namespace debossier {

/// A length in one unit; the unit is part of the type.
template <class Unit>
struct Length {
  double value = 0;

  constexpr Length() = default;
  constexpr explicit Length(double v) : value(v) {}
  constexpr Length operator+(Length o) const { return Length(value + o.value); }
  constexpr Length operator-(Length o) const { return Length(value - o.value); }
  constexpr Length operator*(double f) const { return Length(value * f); }
  constexpr double operator/(Length o) const { return value / o.value; }
  constexpr auto operator<=>(const Length&) const = default;
};

using Px = Length<struct PxUnit>;
using Mm = Length<struct MmUnit>;
using CapHeights = Length<struct CapHeightUnit>;

/// A measured value and its standard uncertainty (k = 1), both in the measurand's unit.
/// Dimensionless measurands and lengths in cap heights use plain doubles here.
struct Measured {
  double value = 0;
  double u = 0;
};

/// Root sum of squares of independent standard uncertainties (GUM 5.1.2).
inline double Combine(double a, double b) { return std::hypot(a, b); }
inline double Combine(double a, double b, double c) { return std::hypot(a, b, c); }

}  // namespace debossier
