#include "accuracy/truth.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <map>

namespace debossier::accuracy {

namespace {

using outline::Box;
using outline::Point;

std::optional<Box> BoxOf(const outline::Lettering& die, const std::string& id) {
  for (const auto& e : die.elements) {
    if (e.id == id) return outline::Bounds(e.outline);
  }
  return std::nullopt;
}

struct Nearest {
  double distance = 0;    ///< Signed, outward positive.
  bool straight = false;  ///< On a straight side, away from its ends.
};

/// Signed distance of `p`, whose outward normal is `n`, from the nearest edge of `polygons` that
/// faces the same way; nothing beyond `reach`.
std::optional<Nearest> Distance(const std::vector<outline::Polyline>& polygons, const Point& p,
                                const Point& n, double reach) {
  constexpr double kFromEnds = 0.04;
  std::optional<Nearest> best;
  for (const auto& polygon : polygons) {
    for (std::size_t i = 0; i < polygon.size(); ++i) {
      const Point& a = polygon[i];
      const Point edge = polygon[i + 1 < polygon.size() ? i + 1 : 0] - a;
      const double squared = edge.squaredNorm();
      if (squared <= 0) continue;
      // Outward is right of the travel.
      const Point normal = Point(edge.y(), -edge.x()) / std::sqrt(squared);
      if (normal.dot(n) < 0.3) continue;
      const double t = std::clamp((p - a).dot(edge) / squared, 0.0, 1.0);
      const Point off = p - (a + t * edge);
      const double distance = off.norm();
      if (distance > reach || (best && distance >= std::abs(best->distance))) continue;
      const double length = std::sqrt(squared);
      best =
          Nearest{off.dot(n) < 0 ? -distance : distance, std::min(t, 1 - t) * length > kFromEnds};
    }
  }
  return best;
}

struct Pair {
  Point point;
  Point normal;
  double length = 0;
  const std::vector<outline::Polyline>* die = nullptr;
  std::size_t element = 0;
};

}  // namespace

std::optional<double> TrueValue(const outline::Lettering& die, const std::string& measure,
                                const std::vector<std::string>& elements, double gain) {
  // A capital grows by the gain at both ends, and with it the unit.
  const double unit = 1 + 2 * gain;
  const auto length = [&](double bare, double grows) { return (bare + grows * gain) / unit; };
  const auto box = elements.empty() ? std::nullopt : BoxOf(die, elements[0]);
  if (measure == "gap") {
    const auto right = BoxOf(die, elements.at(1));
    if (!box || !right) return std::nullopt;
    return length(right->min.x() - box->max.x(), -2);
  }
  if (measure == "letter height" && box) return length(box->height(), 2);
  if (measure == "letter width" && box) return length(box->width(), 2);
  if (measure == "mark size") {
    const auto mark = BoxOf(die, "mark");
    return mark ? std::optional(length(mark->height(), 2)) : std::nullopt;
  }
  if (measure == "mark gap") {
    const auto mark = BoxOf(die, "mark");
    if (!mark) return std::nullopt;
    double right = -1e9;
    for (const auto& e : die.elements) {
      if (e.line_idx == 0 && e.kind == outline::ElementKind::kLetter) {
        right = std::max(right, outline::Bounds(e.outline).max.x());
      }
    }
    return length(mark->min.x() - right, -2);
  }
  if (measure == "line height") {
    for (const auto& line : die.lines) {
      if (line.id == elements.at(0) && line.cap_height > 0) return length(line.cap_height, 2);
    }
  }
  return std::nullopt;
}

OutlineAgreement CompareOutlines(const outline::Lettering& traced, const outline::Lettering& die) {
  std::map<std::string, std::vector<outline::Polyline>> polygons;
  for (const auto& e : die.elements) polygons[e.id] = outline::Flatten(e.outline, 0.0005);
  std::vector<Pair> pairs;
  for (std::size_t i = 0; i < traced.elements.size(); ++i) {
    const auto& e = traced.elements[i];
    const auto found = polygons.find(e.id);
    if (found == polygons.end()) continue;
    for (const auto& s : outline::SampleEdge(e.outline, 0.02)) {
      pairs.push_back({s.point, s.normal, s.length, &found->second, i});
    }
  }
  // Shift, turn and size of the whole, and one gain: five unknowns, by iterated least squares.
  double rms = 0;
  double worst_letter = 0;
  outline::Affine map;
  double gain = 0;
  for (int round = 0; round < 8; ++round) {
    Eigen::Matrix<double, 5, 5> normal = Eigen::Matrix<double, 5, 5>::Identity() * 1e-9;
    Eigen::Matrix<double, 5, 1> right = Eigen::Matrix<double, 5, 1>::Zero();
    double squares = 0;
    double total = 0;
    std::vector<outline::Point> own(traced.elements.size(), outline::Point::Zero());
    for (const Pair& pair : pairs) {
      const Point p = map * pair.point;
      const auto d = Distance(*pair.die, p, pair.normal, 0.25);
      // An edge that the die does not have counts in full.
      const double residual = d ? d->distance - gain : 0.25;
      squares += pair.length * residual * residual;
      total += pair.length;
      own[pair.element] += pair.length * outline::Point(residual * residual, 1);
      // What presses corners round must not pass for less gain: straight sides alone tell it.
      if (!d || !d->straight || std::abs(residual) > 0.1) continue;
      Eigen::Matrix<double, 5, 1> row;
      row << pair.normal.x(), pair.normal.y(), pair.normal.dot(p),
          pair.normal.y() * p.x() - pair.normal.x() * p.y(), -1;
      normal += pair.length * row * row.transpose();
      right -= pair.length * residual * row;
    }
    rms = total > 0 ? std::sqrt(squares / total) : 0;
    worst_letter = 0;
    for (std::size_t i = 0; i < own.size(); ++i) {
      if (traced.elements[i].kind == outline::ElementKind::kMark || !(own[i].y() > 0)) continue;
      worst_letter = std::max(worst_letter, std::sqrt(own[i].x() / own[i].y()));
    }
    const Eigen::Matrix<double, 5, 1> step = normal.ldlt().solve(right);
    if (!step.allFinite()) break;
    Eigen::Matrix2d linear;
    linear << 1 + step[2], -step[3], step[3], 1 + step[2];
    map.offset = linear * map.offset + step.head<2>();
    map.linear = linear * map.linear;
    gain += step[4];
  }
  return {rms, gain, worst_letter};
}

}  // namespace debossier::accuracy
