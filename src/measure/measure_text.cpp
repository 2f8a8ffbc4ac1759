#include "measure/measure_text.h"

#include <algorithm>
#include <cmath>
#include <functional>

#include "separate/tone.h"

namespace debossier::measure {

namespace {

/// Standard uncertainty of one straight edge of a letter, in cap heights: a Gaussian-blurred step
/// of contrast-to-noise ratio SNR has sigma_row = sqrt(2 sqrt(pi) sigma_e) / SNR pixels a row; the
/// rows of one stem average out over it.
double NoiseOfEdge(const fit::PlaceReport& placed, double blur_px, double cap_px) {
  constexpr double kPi = 3.14159265358979;
  constexpr double kStem = 0.8;  // usable length of one stem, cap heights
  const double noise = std::max(0.005, placed.coverage.noise);
  const double sigma_e = std::sqrt(blur_px * blur_px + 1.0 / 12);
  const double row = std::sqrt(2 * std::sqrt(kPi) * sigma_e) * noise;
  return row / std::sqrt(kStem * cap_px) / cap_px;
}

/// Every measured length with what an outward growth of all edges by 1 adds to it, before the unit
/// grows, and whether it lies along the line.
using Visit = std::function<void(Measured& length, double grows, double edges, bool along)>;

void EachLength(Measurements& m, const Visit& visit) {
  for (auto& e : m.elements) {
    if (!e.found) continue;
    visit(e.height_ratio, 2, 2, false);
    visit(e.width, 2, 2, true);
    visit(e.stroke, 2, 1, true);
    visit(e.base_offset, 0, 1, false);
  }
  for (auto& g : m.gaps) {
    visit(g.value, -2, 2, true);
    visit(g.kerning, 0, 2, true);
  }
  for (auto& l : m.lines) {
    if (l.cap_height.value > 0) visit(l.cap_height, 2, 1, false);
    if (l.x_height.value > 0) visit(l.x_height, 2, 1, false);
    if (l.height_ratio.value > 0) visit(l.height_ratio, 2, 1, false);
  }
  if (m.mark.found) {
    visit(m.mark.gap, -2, 2, true);
    visit(m.mark.size, 2, 2, false);
    visit(m.mark.rise, -1, 1, false);
  }
  if (m.frame.kind != outline::FrameKind::kNone) {
    visit(m.frame.half_width, 0, 1, true);
    visit(m.frame.half_height, 0, 1, false);
    visit(m.frame.line_weight, 2, 2, false);
    visit(m.frame.clearance, -2, 2, false);
  }
}

}  // namespace

double CodingGrowth(const separate::Coverage& coverage, double blur_cap_heights) {
  constexpr double kReach = 3;  // of the blur
  const separate::Tone tone(coverage.foil_colour, coverage.ground_colour, coverage.direction);
  // Outward by `t` standard deviations of the blur, foil covers Phi(-t) of the light.
  const auto above = [&](double t) {
    return tone(static_cast<float>(0.5 * std::erfc(t / std::sqrt(2.0)))) > 0.5F;
  };
  double low = -kReach;
  double high = kReach;
  if (!above(low) || above(high)) return 0;
  for (int round = 0; round < 40; ++round) {
    const double t = 0.5 * (low + high);
    (above(t) ? low : high) = t;
  }
  // Foil darker than the leather would look smaller, but the shadow of the impression's walls joins
  // it and makes up for that and more.
  return std::max(0.0, 0.5 * (low + high)) * blur_cap_heights;
}

std::vector<UncertaintySource> SourcesOf(const fit::PlaceReport& placed, double blur_px) {
  // From memory, where no source is named: how far the pressed edge strays from the die's, what
  // camera angles people hold a phone at, and how ragged foil is.
  constexpr double kRagged = 0.006;      // of one point of an edge
  constexpr double kCorrelation = 0.05;  // length along the edge over which it is one
  constexpr double kWorn = 0.008;        // the outline follows foil that wore off
  constexpr double kStem = 0.8;
  constexpr double kPressed = 0.008;  // foil and leather spread beyond the die, or fall short
  constexpr double kOfBlur = 0.15;    // cameras' curves differ, walls throw shadows
  constexpr double kTilt = 0.21;      // radians
  constexpr double kPerspective = 0.008;
  const double cap_px = std::max(1.0, placed.photo_from_stamp.ScaleAt({0.5, 0.5}));
  const double foreshortened = 1 - std::cos(kTilt);
  return {{"noise of the picture", NoiseOfEdge(placed, blur_px, cap_px), 0, 0, 0},
          {"ragged and worn edges of the foil",
           Combine(kRagged / std::sqrt(kStem / kCorrelation), kWorn), 0, 0, 0},
          {"the camera's curve with the blur", 0, kOfBlur * blur_px / cap_px, 0, 0},
          {"spread of foil and leather beyond the die", 0, kPressed, 0, 0},
          {"tilt of the camera, which one photo does not show", 0, 0,
           Combine(foreshortened, kPerspective), kPerspective}};
}

void TakeOutGrowth(double growth, Measurements& measured) {
  const double unit = 1 - 2 * growth;
  EachLength(measured, [&](Measured& length, double grows, double, bool) {
    length.value = (length.value - grows * growth) / unit;
    length.u /= unit;
  });
}

void AddUncertainty(const std::vector<UncertaintySource>& sources, Measurements& measured) {
  for (const auto& s : sources) {
    EachLength(measured, [&](Measured& length, double grows, double edges, bool along) {
      const double edge = s.of_edge * std::sqrt(edges);
      // The unit grows too: (length + grows g) / (1 + 2 g).
      const double growth = s.of_growth * (grows - 2 * length.value);
      const double share = (along ? s.of_width : s.of_height) * length.value;
      length.u = Combine(length.u, Combine(edge, growth, share));
    });
    for (auto& e : measured.elements) {
      if (!e.found) continue;
      const double edge = std::sqrt(2.0) * s.of_edge;
      e.u_centre = {Combine(e.u_centre.x(), edge / 2), Combine(e.u_centre.y(), edge / 2)};
      e.u_size = {Combine(e.u_size.x(), edge), Combine(e.u_size.y(), edge)};
    }
  }
}

}  // namespace debossier::measure
