// Signed distance to the die's outlines on a grid: gain, ragged edges, walls and flash are offsets
// of it.
//
// Frame: stamp (cap heights, y up); negative inside. Exact at the grid's points for the flattened
// outline, so bilinear values between them are off by step^2 / (8 * radius of curvature) at most.
// Not for: distances beyond `band`, which are cut to it.
#pragma once

#include <vector>

#include "outline/lettering.h"
#include "simulate/field.h"

namespace debossier::simulate {

using outline::Point;

/// Where a field's cells lie in the stamp frame; row 0 is the lowest.
struct Grid {
  Point origin = Point::Zero();  ///< Centre of cell (0, 0).
  double step = 0.01;
  cv::Size size;

  Point At(int column, int row) const { return origin + step * Point(column, row); }
  Point CellOf(const Point& p) const { return (p - origin) / step; }
};

/// The polygons of one element; shapes are united, so letters that touch have no edge between.
using Shape = std::vector<outline::Polyline>;

/// The elements and the frame's rule of a lettering, flattened to 1e-4 cap heights.
std::vector<Shape> Shapes(const outline::Lettering& lettering);

Field SignedDistance(const std::vector<Shape>& shapes, const Grid& grid, double band);

}  // namespace debossier::simulate
