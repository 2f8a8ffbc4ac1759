// Which letters stand flat on the baseline, reach a flat top, or descend: for heights of lines.
//
// Cap height and x-height are measured on flat letters, never on round ones, whose overshoot is
// design (OpenType OS/2 sCapHeight, sxHeight: "flat" letters such as H and x). Not for: other
// scripts than Latin beyond a guess from case.
#pragma once

#include <string>
#include <vector>

#include "outline/lettering.h"

namespace debossier::outline {

/// X-height of a usual face, of its cap height; common practice, no source.
inline constexpr double kUsualXHeight = 0.7;

bool HasFlatTop(const std::string& character);      ///< A capital with a flat top.
bool HasFlatBase(const std::string& character);     ///< Stands flat on the baseline, either case.
bool HasFlatXHeight(const std::string& character);  ///< A small letter whose top is at x-height.
bool Ascends(const std::string& character);         ///< A small letter with an ascender.

/// Baseline and heights of a line as its letters show them, in the frame of the outlines.
struct LineHeights {
  double baseline = 0;
  double cap_height = 0;  ///< 0 where the line has no capital.
  double x_height = 0;    ///< 0 where the line has no small letter of x-height.
  double ascender = 0;    ///< 0 where the line has no ascending small letter.
  /// The height that stands for the line: capitals, else ascenders, else x-height / kUsualXHeight.
  double Nominal() const;
};

/// The height that stands for a line with known heights, as Nominal(); 0 where it has none.
double NominalHeight(const Line& line);

/// From the boxes of a line's letters (`boxes` and `characters` in step; marks left out by the
/// caller). The baseline is level here: it is the median lower edge of the flat letters.
LineHeights HeightsOf(const std::vector<std::string>& characters, const std::vector<Box>& boxes);

}  // namespace debossier::outline
