#include <algorithm>

#include "outline/glif.h"

namespace debossier::outline {

namespace {

void AddLine(Contour& contour, const Point& end) {
  contour.segments.push_back({true, Point::Zero(), Point::Zero(), end});
}

void AddQuadratic(Contour& contour, const Point& from, const Point& control, const Point& end) {
  // Degree elevation: the same curve as a cubic.
  contour.segments.push_back({false, (from + 2 * control) / 3, (end + 2 * control) / 3, end});
}

Point LastPoint(const Contour& contour) {
  return contour.segments.empty() ? contour.start : contour.segments.back().end;
}

/// Between two off-curve points of a quadratic curve lies an implied on-curve point.
void AddQuadratics(Contour& contour, const std::vector<Point>& controls, const Point& end) {
  for (std::size_t i = 0; i < controls.size(); ++i) {
    const Point to = i + 1 < controls.size() ? Point(0.5 * (controls[i] + controls[i + 1])) : end;
    AddQuadratic(contour, LastPoint(contour), controls[i], to);
  }
}

/// Adds the segment that ends at an on-curve point; false where the off-curve points do not suit
/// it.
bool AddSegment(Contour& contour, std::vector<Point>& controls, const GlifPoint& on_curve) {
  if (controls.empty()) {
    AddLine(contour, on_curve.at);
    return true;
  }
  if (on_curve.type == GlifPointType::kLine) return false;
  if (on_curve.type == GlifPointType::kQCurve || controls.size() == 1) {
    AddQuadratics(contour, controls, on_curve.at);
  } else if (controls.size() == 2) {
    contour.segments.push_back({false, controls[0], controls[1], on_curve.at});
  } else {
    return false;
  }
  controls.clear();
  return true;
}

}  // namespace

std::optional<Contour> FromGlifPoints(const std::vector<GlifPoint>& points) {
  Contour contour;
  std::vector<Point> controls;
  const auto first = std::find_if(points.begin(), points.end(), [](const GlifPoint& p) {
    return p.type != GlifPointType::kOffCurve;
  });
  if (first == points.end()) {
    for (const GlifPoint& point : points) controls.push_back(point.at);
    contour.start = 0.5 * (controls.back() + controls.front());
    AddQuadratics(contour, controls, contour.start);
    return contour;
  }
  contour.start = first->at;
  const std::size_t offset = static_cast<std::size_t>(first - points.begin());
  for (std::size_t i = 1; i <= points.size(); ++i) {
    const GlifPoint& point = points[(offset + i) % points.size()];
    if (point.type == GlifPointType::kOffCurve) {
      controls.push_back(point.at);
    } else if (!AddSegment(contour, controls, point)) {
      return std::nullopt;
    }
  }
  return contour;
}

}  // namespace debossier::outline
