// The scale card: what is printed on it, and where.
//
// The card has the outline of an ID-1 card (ISO/IEC 7810: 85.60 mm by 53.98 mm). Its marks lie on
// an L of two arms, so that it is laid whole beside a stamp, or, with its window cut out, round
// one. Each mark is a black dot in a white ring in a ring of black and white sectors, which say
// which mark it is: circular coded targets as close-range photogrammetry uses them (Luhmann et al.,
// "Close-Range Photogrammetry and 3D Imaging"; the code words and the sizes are our own).
// Frame: card (mm, x to the right along the long arm, y down, origin at the upper left corner).
// Not for: drawing; report/card_pdf does that.
#pragma once

#include <cstdint>
#include <span>

#include "outline/outline.h"

namespace debossier::card {

using outline::Point;

inline constexpr int kVersion = 1;  ///< Of the layout and its code words; printed on the card.

inline constexpr double kWidthMm = 85.60;
inline constexpr double kHeightMm = 53.98;
inline constexpr double kArmMm = 13;  ///< Width of the arms; the window is what remains.

// Radii of a mark.
inline constexpr double kDotMm = 1.7;
inline constexpr double kRingInnerMm = 2.5;
inline constexpr double kRingOuterMm = 3.8;
inline constexpr double kQuietMm = 4.6;  ///< White at least up to here.

inline constexpr int kSectors = 14;

/// The line on the page that is measured after printing.
inline constexpr double kCheckLengthMm = 100;

struct Fiducial {
  Point centre;
  /// Bit i is set where sector i is black; sector i reaches from i to i + 1 fourteenths of a turn,
  /// from the x axis towards the y axis. Any two words differ in four sectors at least, however
  /// they are turned, and so do a word and itself turned.
  std::uint16_t code;
};

/// All marks: the long arm from left to right, the short arm downwards, the window's own.
std::span<const Fiducial> Fiducials();

/// True where the card is black: for checks of what was printed.
bool IsInk(const Point& card_mm);

}  // namespace debossier::card
