#include <algorithm>
#include <cmath>

#include "measure/measure_photo.h"

namespace debossier::measure {

ExtremeEdges EdgesOf(const fit::ElementFit& fit, const outline::Outline& reference) {
  ExtremeEdges out;
  const outline::Affine move = fit::MoveOf(fit);
  const outline::Box box = outline::Bounds(outline::Transformed(reference, move));
  out.left = box.min.x();
  out.right = box.max.x();
  out.bottom = box.min.y();
  out.top = box.max.y();
  // The support points carry the derivatives: the sampled edges that lie furthest out.
  const auto support = [&](int axis, int sign) {
    const fit::ModelEdge* best = nullptr;
    double furthest = -1e300;
    for (const auto& e : fit.edges) {
      const double v = sign * (move * e.point)[axis];
      if (v > furthest) {
        furthest = v;
        best = &e;
      }
    }
    DEBOSSIER_ASSERT(best != nullptr);
    return fit::ElementVector(fit::MoveJacobian(fit, best->point).row(axis).transpose());
  };
  out.d_left = support(0, -1);
  out.d_right = support(0, 1);
  out.d_bottom = support(1, -1);
  out.d_top = support(1, 1);
  return out;
}

namespace {

double Deviation(const fit::ElementFit& fit, const fit::ElementVector& row) {
  return std::sqrt(std::max(0.0, row.dot(fit.covariance * row)));
}

/// Mean stroke weight: twice the area over the outline's length holds for strokes long against
/// their width.
double StrokeWeight(const outline::Outline& outline) {
  const double length = outline::Perimeter(outline);
  return length > 0 ? 2 * outline::SignedArea(outline) / length : 0;
}

/// Place, size, stroke and slant of a found element. Lengths are in the photo's own wordmark: its
/// size and shift are taken out.
void MeasureFit(const outline::Element& element, const fit::ElementFit& fit,
                const LineFit& wordmark, ElementMeasurement& m) {
  const outline::Box ref_box = outline::Bounds(element.outline);
  m.found_as = element.character;
  m.pose = {fit.value.head<kPoseValues>(),
            fit.covariance.topLeftCorner<kPoseValues, kPoseValues>()};
  const double size = 1 + wordmark.value[kLineSize];
  const auto in_wordmark = [&](const Point& p) {
    const Point shift(wordmark.value[kLineShiftX], wordmark.value[kLineShiftY]);
    const Point d = p - wordmark.centre - shift;
    const double turn = wordmark.value[kLineTurn];
    return Point(wordmark.centre + Point(d.x() + turn * d.y(), d.y() - turn * d.x()) / size);
  };
  const ExtremeEdges edges = EdgesOf(fit, element.outline);
  const double width = (edges.right - edges.left) / size;
  const double height = (edges.top - edges.bottom) / size;
  const Point centre =
      in_wordmark({0.5 * (edges.left + edges.right), 0.5 * (edges.bottom + edges.top)});
  m.box.min = centre - 0.5 * Point(width, height);
  m.box.max = centre + 0.5 * Point(width, height);
  m.u_centre = {Deviation(fit, 0.5 * (edges.d_left + edges.d_right)),
                Deviation(fit, 0.5 * (edges.d_bottom + edges.d_top))};
  const double u_size = std::sqrt(wordmark.covariance(kLineSize, kLineSize));
  m.u_size = {Combine(Deviation(fit, edges.d_right - edges.d_left), width * u_size),
              Combine(Deviation(fit, edges.d_top - edges.d_bottom), height * u_size)};
  m.offset = centre - ref_box.centre();
  m.height_ratio = {height, m.u_size.y()};
  m.width = {width, m.u_size.x()};
  m.relative_height = {height / ref_box.height(), m.u_size.y() / ref_box.height()};
  m.relative_width = {width / ref_box.width(), m.u_size.x() / ref_box.width()};
  m.base_offset = {m.box.min.y() - ref_box.min.y(), Deviation(fit, edges.d_bottom)};
  const double own_gain = fit.value[fit::kOwnGain];
  m.stroke = {(StrokeWeight(element.outline) *
                   std::exp(0.5 * (fit.value[fit::kLogScaleX] + fit.value[fit::kLogScaleY])) +
               2 * own_gain) /
                  size,
              2 * std::sqrt(fit.covariance(fit::kOwnGain, fit::kOwnGain))};
  const double degrees = 180 / 3.14159265358979;
  m.slant_deg = {std::atan(fit.value[fit::kSlant]) * degrees,
                 std::sqrt(fit.covariance(fit::kSlant, fit::kSlant)) * degrees};
  m.outline = outline::Transformed(element.outline, fit::MoveOf(fit));
}

}  // namespace

ElementMeasurement MeasureElement(const outline::Lettering& reference, std::size_t idx,
                                  const fit::PlaceReport& placed, const LineFit& wordmark) {
  const outline::Element& element = reference.elements[idx];
  const fit::ElementFit& fit = placed.elements[idx];
  ElementMeasurement m;
  m.id = element.id;
  m.line_idx = element.line_idx;
  m.is_mark = element.kind == outline::ElementKind::kMark;
  m.character = element.character;
  m.found = fit.found;
  m.in_place = fit.in_place;
  m.cut = fit.cut;
  m.box = outline::Bounds(element.outline);
  m.outline = element.outline;
  if (fit.found) {
    MeasureFit(element, fit, wordmark, m);
    const fit::EdgeReader reader(placed.coverage.alpha, placed.map_from_stamp);
    m.shape = MeasureShape(fit, reader, element.outline);
    // A mark's inside may be filled on the set's items and open on this one, or the reverse.
    if (m.is_mark) m.shape.missing = fit.missing;
  }
  const outline::Box drawn = outline::Bounds(m.outline);
  const std::array<Point, 4> corners = {drawn.min, Point(drawn.max.x(), drawn.min.y()), drawn.max,
                                        Point(drawn.min.x(), drawn.max.y())};
  for (int k = 0; k < 4; ++k) m.quad_px[k] = placed.photo_from_stamp.ToPhoto(corners[k]);
  return m;
}

}  // namespace debossier::measure
