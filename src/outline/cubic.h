// One cubic Bézier segment: its points, derivatives and arc length.
//
// Frame: that of the outline it comes from. t runs from 0 to 1.
// Not for: lines (a line is cheaper treated as such; see Segment::is_line).
#pragma once

#include "outline/outline.h"

namespace debossier::outline {

struct Cubic {
  Point p0 = Point::Zero();
  Point p1 = Point::Zero();
  Point p2 = Point::Zero();
  Point p3 = Point::Zero();

  Point At(double t) const;
  /// dP/dt.
  Point DerivativeAt(double t) const;
  /// Unit direction of travel; where the derivative vanishes, the limit coming from larger t
  /// (from smaller t at the end). Zero for a curve that is a single point.
  Point DirectionAt(double t) const;
  /// Arc length between two parameters by five-point Gauss-Legendre quadrature: exact to rounding
  /// on short spans, not near a cusp.
  double LengthBetween(double t0, double t1) const;
};

/// The curve of a segment that starts at `start`. @pre the segment is not a line.
Cubic CubicOf(const Point& start, const Segment& segment);

}  // namespace debossier::outline
