#include "outline/outline.h"

namespace debossier::outline {

Contour FromPolyline(const Polyline& polyline) {
  Contour contour;
  if (polyline.empty()) return contour;
  contour.start = polyline.front();
  for (std::size_t i = 1; i < polyline.size(); ++i) {
    contour.segments.push_back({true, Point::Zero(), Point::Zero(), polyline[i]});
  }
  if (polyline.size() > 1 && polyline.back() != polyline.front()) {
    contour.segments.push_back({true, Point::Zero(), Point::Zero(), polyline.front()});
  }
  return contour;
}

Contour Ellipse(const Point& centre, double radius_x, double radius_y) {
  // 4/3 (sqrt(2) - 1): each quarter meets the circle at its ends and its middle.
  constexpr double kHandle = 0.552284749830793398;
  const Point x(radius_x, 0);
  const Point y(0, radius_y);
  const auto quarter = [&](const Point& from, const Point& to) {
    return Segment{false, centre + from + kHandle * to, centre + to + kHandle * from, centre + to};
  };
  return {centre + x, {quarter(x, y), quarter(y, -x), quarter(-x, -y), quarter(-y, x)}};
}

Contour Rectangle(const Box& box) {
  return FromPolyline({box.min, {box.max.x(), box.min.y()}, box.max, {box.min.x(), box.max.y()}});
}

}  // namespace debossier::outline
