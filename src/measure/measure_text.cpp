#include "measure/measure_text.h"

#include <algorithm>
#include <cmath>

namespace debossier::measure {

double EdgeUncertainty(const fit::PlaceReport& placed, double blur_px) {
  constexpr double kPi = 3.14159265358979;
  constexpr double kRagged = 0.006;
  constexpr double kCorrelation = 0.05;
  constexpr double kStem = 0.8;  // usable length of one stem, cap heights
  const double cap_px = std::max(1.0, placed.photo_from_stamp.ScaleAt({0.5, 0.5}));
  const double noise = std::max(0.005, placed.coverage.noise);
  const double sigma_e = std::sqrt(blur_px * blur_px + 1.0 / 12);
  const double row = std::sqrt(2 * std::sqrt(kPi) * sigma_e) * noise;
  const double optical = row / std::sqrt(kStem * cap_px) / cap_px;
  const double ragged = kRagged / std::sqrt(kStem / kCorrelation);
  return std::hypot(optical, ragged);
}

void AddEdgeUncertainty(double u_edge, Measurements& measured) {
  const double pair = std::sqrt(2.0) * u_edge;
  const auto add = [](Measured& m, double u) { m.u = std::hypot(m.u, u); };
  for (auto& e : measured.elements) {
    if (!e.found) continue;
    e.u_centre = {std::hypot(e.u_centre.x(), pair / 2), std::hypot(e.u_centre.y(), pair / 2)};
    e.u_size = {std::hypot(e.u_size.x(), pair), std::hypot(e.u_size.y(), pair)};
    add(e.height_ratio, pair);
    add(e.width, pair);
    add(e.stroke, pair / 2);
    add(e.base_offset, u_edge);
  }
  for (auto& g : measured.gaps) {
    add(g.value, pair);
    add(g.kerning, pair);
  }
  for (auto& l : measured.lines) {
    if (l.cap_height.value > 0) add(l.cap_height, pair / 2);
    if (l.x_height.value > 0) add(l.x_height, pair / 2);
    add(l.height_ratio, pair / 2);
  }
  if (measured.mark.found) {
    add(measured.mark.gap, pair);
    add(measured.mark.size, pair);
    add(measured.mark.rise, u_edge);
  }
}

}  // namespace debossier::measure
