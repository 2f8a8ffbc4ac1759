#include <algorithm>
#include <cmath>

#include "outline/outline.h"

namespace debossier::outline {

namespace {

/// Signed crossings of the ray from `p` towards +x (Sunday's winding number).
int WindingNumber(const Polyline& polygon, const Point& p) {
  int winding = 0;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point& a = polygon[i];
    const Point& b = polygon[i + 1 < polygon.size() ? i + 1 : 0];
    const double side = (b.x() - a.x()) * (p.y() - a.y()) - (p.x() - a.x()) * (b.y() - a.y());
    if (a.y() <= p.y() && b.y() > p.y() && side > 0) ++winding;
    if (a.y() > p.y() && b.y() <= p.y() && side < 0) --winding;
  }
  return winding;
}

double DistanceToEdge(const Polyline& polygon, const Point& p) {
  double nearest = 1e300;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point& a = polygon[i];
    const Point edge = polygon[i + 1 < polygon.size() ? i + 1 : 0] - a;
    const double squared = edge.squaredNorm();
    const double t = squared > 0 ? std::clamp((p - a).dot(edge) / squared, 0.0, 1.0) : 0.0;
    nearest = std::min(nearest, (a + t * edge - p).norm());
  }
  return nearest;
}

struct Region {
  Polyline polygon;
  Box box;
  double area = 0;  ///< Absolute.
};

bool BoxInside(const Box& inner, const Box& outer, double slack) {
  return (inner.min.array() >= outer.min.array() - slack).all() &&
         (inner.max.array() <= outer.max.array() + slack).all();
}

/// True where no point of `inner` lies outside `outer`; points on its edge, within `slack`, pass.
/// Regions that only overlap are not nested. Looks at 511 points at most, which keeps outlines of
/// many points from taking time by their square.
bool Nested(const Region& inner, const Region& outer, double slack) {
  if (!(inner.area < outer.area) || !BoxInside(inner.box, outer.box, slack)) return false;
  const std::size_t stride = std::max<std::size_t>(1, inner.polygon.size() / 256);
  for (std::size_t i = 0; i < inner.polygon.size(); i += stride) {
    const Point& p = inner.polygon[i];
    if (WindingNumber(outer.polygon, p) == 0 && DistanceToEdge(outer.polygon, p) > slack) {
      return false;
    }
  }
  return true;
}

}  // namespace

bool Contains(const std::vector<Polyline>& polygons, const Point& p) {
  int winding = 0;
  for (const Polyline& polygon : polygons) winding += WindingNumber(polygon, p);
  return winding != 0;
}

void CrossingsAt(const std::vector<Polyline>& polygons, double y,
                 std::vector<std::pair<double, int>>* crossings) {
  crossings->clear();
  for (const Polyline& polygon : polygons) {
    for (std::size_t i = 0; i < polygon.size(); ++i) {
      const Point& a = polygon[i];
      const Point& b = polygon[i + 1 < polygon.size() ? i + 1 : 0];
      const bool up = a.y() <= y && b.y() > y;
      if (!up && !(a.y() > y && b.y() <= y)) continue;
      const double t = (y - a.y()) / (b.y() - a.y());
      crossings->emplace_back(a.x() + t * (b.x() - a.x()), up ? 1 : -1);
    }
  }
  std::sort(crossings->begin(), crossings->end());
}

Outline WithStandardDirection(const Outline& outline) {
  const Box all = Bounds(outline);
  if (all.empty()) return outline;
  const double diagonal = std::hypot(all.width(), all.height());
  if (!(diagonal > 0)) return outline;
  const std::vector<Polyline> polygons = Flatten(outline, 1e-3 * diagonal);
  std::vector<Region> regions;
  for (std::size_t i = 0; i < polygons.size(); ++i) {
    const Contour& contour = outline.contours[i];
    regions.push_back({polygons[i], Bounds(contour), std::abs(SignedArea(contour))});
  }
  Outline out;
  for (std::size_t i = 0; i < regions.size(); ++i) {
    const auto depth = std::count_if(regions.begin(), regions.end(), [&](const Region& other) {
      return Nested(regions[i], other, 2e-3 * diagonal);
    });
    const Contour& contour = outline.contours[i];
    const bool runs_ccw = SignedArea(contour) > 0;
    out.contours.push_back(runs_ccw == (depth % 2 == 0) ? contour : Reversed(contour));
  }
  return out;
}

}  // namespace debossier::outline
