// Directions of glyphs as different kinds of font draw them.
#include "typeset/fill_side.h"

#include <gtest/gtest.h>

namespace debossier::typeset {
namespace {

using outline::Contour;
using outline::Outline;

TEST(WithFillOnLeft, TurnsTrueTypeGlyphsAndMirroredParts) {
  const Contour ring = outline::Ellipse({0, 0}, 10, 10);
  const Contour hole = Reversed(outline::Ellipse({0, 0}, 8, 8));
  const Contour bar = outline::Rectangle({{-9, -1}, {9, 1}});
  const Contour dot = outline::Rectangle({{12, 0}, {14, 2}});
  const auto areas = [](const Outline& outline) {
    std::vector<bool> positive;
    for (const Contour& contour : outline.contours) positive.push_back(SignedArea(contour) > 0);
    return positive;
  };
  const std::vector<bool> meant{true, false, true, true};
  // PostScript, TrueType, and TrueType with one part mirrored.
  EXPECT_EQ(areas(WithFillOnLeft({{ring, hole, bar, dot}})), meant);
  EXPECT_EQ(areas(WithFillOnLeft({{Reversed(ring), Reversed(hole), Reversed(bar), Reversed(dot)}})),
            meant);
  EXPECT_EQ(areas(WithFillOnLeft({{Reversed(ring), Reversed(hole), Reversed(bar), dot}})), meant);
  // A part that lies within another is ink as before, not a counter.
  const Contour inner = outline::Rectangle({{1, -0.5}, {2, 0.5}});
  EXPECT_EQ(areas(WithFillOnLeft({{Reversed(bar), Reversed(inner)}})),
            (std::vector<bool>{true, true}));
}

}  // namespace
}  // namespace debossier::typeset
