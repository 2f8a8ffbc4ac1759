// What size a printed character of a plain face has: rough, for reading blind only.
//
// Units: cap heights of the line. The figures are typical of book and display faces (common
// practice, no source); reading allows a wide margin and a width factor for the face.
// Not for: measuring or comparing.
#pragma once

#include <optional>
#include <string>

namespace debossier::reading {

struct ExpectedSize {
  double width = 0.7;  ///< Ink width.
  double bottom = 0;   ///< Lower ink edge over the baseline.
  double top = 1;      ///< Upper ink edge.
  double height() const { return top - bottom; }
};

ExpectedSize SizeOf(const std::string& character);

/// Counters that the letter encloses in usual faces (A one, B two, E none); nothing where faces
/// differ or the character is no letter or figure. Common practice, no source.
std::optional<int> CountersOf(const std::string& character);

}  // namespace debossier::reading
