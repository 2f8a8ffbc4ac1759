// Closed outlines of cubic Bézier segments and straight lines: glyphs, marks, frames.
//
// Frame: the caller's; y is always up. In this project outlines are in cap heights of the wordmark
// unless a name says otherwise. Filled by the nonzero rule. Outer contours run counter-clockwise,
// counters clockwise (UFO 3 and PostScript direction).
// Not for: pixel space (y down) and open paths.
#pragma once

#include <Eigen/Core>
#include <utility>
#include <vector>

namespace debossier::outline {

using Point = Eigen::Vector2d;

/// One step from the point before to `end`: a straight line, or a cubic Bézier curve with the two
/// off-curve points `control1` and `control2`.
struct Segment {
  bool is_line = true;
  Point control1 = Point::Zero();  ///< Unused for a line.
  Point control2 = Point::Zero();  ///< Unused for a line.
  Point end = Point::Zero();
};

/// A closed contour. The last segment ends at `start`.
struct Contour {
  Point start = Point::Zero();
  std::vector<Segment> segments;
};

struct Outline {
  std::vector<Contour> contours;
  bool empty() const { return contours.empty(); }
};

/// An axis-aligned box; `min` > `max` where nothing was added.
struct Box {
  Point min{1e300, 1e300};
  Point max{-1e300, -1e300};
  bool empty() const { return min.x() > max.x() || min.y() > max.y(); }
  double width() const { return max.x() - min.x(); }
  double height() const { return max.y() - min.y(); }
  Point centre() const { return 0.5 * (min + max); }
  void Add(const Point& p) {
    min = min.cwiseMin(p);
    max = max.cwiseMax(p);
  }
  void Add(const Box& b) {
    if (b.empty()) return;
    Add(b.min);
    Add(b.max);
  }
};

/// x' = linear * x + offset.
struct Affine {
  Eigen::Matrix2d linear = Eigen::Matrix2d::Identity();
  Point offset = Point::Zero();
  Point operator*(const Point& p) const { return linear * p + offset; }
};

/// A closed polyline (the last point joins the first; it is not repeated).
using Polyline = std::vector<Point>;

/// A point on an outline with its outward unit normal (away from the filled side) and the length
/// of outline it stands for.
struct EdgeSample {
  Point point = Point::Zero();
  Point normal = Point::Zero();
  double length = 0;
  int contour_idx = 0;
};

/// Exact extreme box of the curves (roots of the derivative, not the control polygon).
Box Bounds(const Outline& outline);
Box Bounds(const Contour& contour);

/// Signed area by Green's theorem, exact for cubics; positive for counter-clockwise.
double SignedArea(const Contour& contour);
/// Sum of the signed areas: the filled area of a well directed outline.
double SignedArea(const Outline& outline);

/// Length of the outline, to a relative error below 1e-6.
double Perimeter(const Outline& outline);

/// Flattens to polylines that stay within `tolerance` of the curves.
std::vector<Polyline> Flatten(const Outline& outline, double tolerance);

/// Samples the outline at equal steps of about `step` along each contour (at least 8 a contour),
/// the first half a step after the start. A sample on a corner has the normal of the side after it.
/// @pre the outline is well directed: outward is to the right of the travel.
std::vector<EdgeSample> SampleEdge(const Outline& outline, double step);

/// Maps every point. A map that mirrors (negative determinant) also reverses each contour, so that
/// outer contours stay counter-clockwise and outward stays to the right of the travel.
Outline Transformed(const Outline& outline, const Affine& map);
void Append(Outline& to, const Outline& from);
/// Reverses the direction of travel.
Contour Reversed(const Contour& contour);

/// True where `p` is inside the polygons by the nonzero rule.
bool Contains(const std::vector<Polyline>& polygons, const Point& p);

/// Where the polygons cross the horizontal line at `y`, by rising x: x, and +1 upwards or -1
/// downwards. A point of the line is inside where the sum over the crossings left of it is not 0.
void CrossingsAt(const std::vector<Polyline>& polygons, double y,
                 std::vector<std::pair<double, int>>* crossings);

/// Turns contours so that outer ones run counter-clockwise and counters clockwise, by nesting
/// depth: a contour inside an odd number of others is a counter. Contours that only overlap are not
/// nested.
Outline WithStandardDirection(const Outline& outline);

/// Each closed straight-sided contour from a polyline.
Contour FromPolyline(const Polyline& polyline);

/// A closed ellipse of four cubics, counter-clockwise (radial error below 3e-4 of the radius).
Contour Ellipse(const Point& centre, double radius_x, double radius_y);
/// A closed rectangle, counter-clockwise.
Contour Rectangle(const Box& box);

}  // namespace debossier::outline
