// How far letters of one die stray from their line on real goods, before any set says.
//
// Set by hand, no source; sets learn their own (compare/set_model), and what is weighted by these
// only has to let go of letters that moved.
#pragma once

namespace debossier::fit {

inline constexpr double kNaturalShift = 0.004;  ///< Along and across, cap heights.
inline constexpr double kNaturalScale = 0.008;  ///< Logarithm of width and height.
inline constexpr double kNaturalSlant = 0.02;   ///< Shear.

/// Degrees of freedom of the Student weights about them.
inline constexpr double kStudentDegrees = 3;

}  // namespace debossier::fit
