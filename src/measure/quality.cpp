#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "fit/edge_blur.h"
#include "measure/measure_photo.h"

namespace debossier::measure {

namespace {

void AddAdvice(Quality& q, const fit::PlaceReport& placed) {
  if (q.cap_height_px < 60) {
    q.advice.push_back(
        fmt::format("Photograph the stamp closer: a capital is {:.0f} pixels high, 80 or more give "
                    "a good answer.",
                    q.cap_height_px));
  }
  if (q.blur_px > 0.045 * q.cap_height_px && q.blur_px > 1.5) {
    q.advice.push_back("The photo is blurred: rest the phone, tap on the lettering to focus.");
  }
  if (q.tilt_deg > 15) {
    q.advice.push_back("Hold the phone flatter over the stamp: it is tilted by about " +
                       fmt::format("{:.0f} degrees.", q.tilt_deg));
  }
  if (placed.coverage.contrast < kLeastContrast) {
    q.advice.push_back(
        "Foil and leather look alike in this light: turn the item until the foil stands out.");
  }
  if (q.coverage < 0.8) {
    q.advice.push_back(
        "Parts of the lettering carry no visible foil: try softer light from another side to tell "
        "wear from glare.");
  }
}

}  // namespace

Quality MeasureQuality(const outline::Lettering& reference, const fit::PlaceReport& placed,
                       const std::vector<ElementMeasurement>& elements) {
  Quality q;
  const Point centre = outline::Bounds(reference).centre();
  const auto shape = fit::ShapeOf(placed.photo_from_stamp, centre);
  q.cap_height_px = shape.scale;
  q.turn_deg = shape.turn * 180 / 3.14159265358979;
  q.anisotropy = std::exp(shape.log_aspect) - 1;
  const Eigen::Matrix2d j = placed.photo_from_stamp.JacobianAt(centre);
  const Eigen::Matrix2d metric = j.transpose() * j;
  const double mean = metric.trace() / 2;
  const double spread = std::sqrt(std::max(0.0, mean * mean - metric.determinant()));
  // A scan that was squeezed looks like a tilt.
  q.tilt_deg = placed.free_aspect
                   ? std::nan("")
                   : std::acos(std::sqrt(std::max(0.0, (mean - spread) / (mean + spread)))) * 180 /
                         3.14159265358979;
  double area = 0;
  double covered = 0;
  for (std::size_t i = 0; i < elements.size(); ++i) {
    const double a = outline::SignedArea(reference.elements[i].outline);
    area += a;
    if (elements[i].found) covered += a * (1 - elements[i].shape.missing);
  }
  q.coverage = area > 0 ? covered / area : 0;
  q.contrast = placed.coverage.contrast;
  const fit::EdgeReader reader(placed.coverage.alpha, placed.map_from_stamp);
  q.blur_px = fit::EdgeBlurPx(reader, placed.elements) * placed.coverage.grid.scale_x;
  AddAdvice(q, placed);
  return q;
}

}  // namespace debossier::measure
