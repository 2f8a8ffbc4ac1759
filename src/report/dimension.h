// A length as technical drawings show it: two extension lines, a line with arrows between them, and
// its value.
//
// After ISO 129-1 (from memory): arrows inside where there is room, else from outside.
// Frame: page points, y down.
#pragma once

#include <string>

#include "drawing/canvas.h"

namespace debossier::report {

/// Level (`from` and `to` differ in x) or upright (in y) on the page.
struct Dimension {
  Point from = Point::Zero();  ///< On the edges between which the length is.
  Point to = Point::Zero();
  bool upright = false;
  double at = 0;      ///< y of a level dimension line, x of an upright one.
  std::string words;  ///< Its value; empty: none.
};

/// Draws it within `panel`, which its words do not leave.
void DrawDimension(Canvas& canvas, const Dimension& dimension, const Rect& panel,
                   const Colour& colour);

}  // namespace debossier::report
