#include "simulate/levels.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace debossier::simulate {
namespace {

using A = Amounts;

// Name, member, unit; ranges of clean, typical and hard; whole number; meaning.
// clang-format off
constexpr AmountRow kTable[] = {
    {"gain_mm", &A::gain_mm, "mm", {0.018, 0.022}, {0.01, 0.03}, {0.0, 0.04}, false,
     "stroke gain: every edge moves outward by this"},
    {"dwell_mm", &A::dwell_mm, "mm", {0, 0}, {-0.02, 0.02}, {-0.06, 0.06}, false,
     "further gain from a light (-) or heavy (+) dwell of the die"},
    {"pressure", &A::pressure, "1", {0, 0.05}, {0.1, 0.5}, {0.3, 1.0}, false,
     "change of pressure over the stamp: gain varies by 0.02 mm, depth by a third, times this"},
    {"ragged_mm", &A::ragged_mm, "mm", {0.001, 0.003}, {0.008, 0.02}, {0.015, 0.03}, false,
     "standard deviation of the ragged edge"},
    {"ragged_length_mm", &A::ragged_length_mm, "mm", {0.15, 0.15}, {0.10, 0.2}, {0.10, 0.25}, false,
     "length over which the raggedness falls to 1/e"},
    {"depth_mm", &A::depth_mm, "mm", {0.04, 0.06}, {0.06, 0.16}, {0.04, 0.22}, false,
     "depth of the impression"},
    {"wall_deg", &A::wall_deg, "deg", {50, 60}, {35, 60}, {30, 60}, false,
     "slope of the impression's walls"},
    {"grain_size", &A::grain_size, "1", {0.9, 1.1}, {0.7, 1.3}, {0.6, 1.6}, false,
     "size of the grain against its kind's usual size"},
    {"grain_depth", &A::grain_depth, "1", {0.15, 0.3}, {0.35, 0.9}, {0.7, 1.4}, false,
     "depth of the grain against its kind's usual depth"},
    {"grain_left", &A::grain_left, "1", {0.05, 0.15}, {0.15, 0.4}, {0.3, 0.7}, false,
     "share of the grain's depth that the die leaves under the foil"},
    {"mottling", &A::mottling, "1", {0.01, 0.03}, {0.03, 0.08}, {0.06, 0.16}, false,
     "standard deviation of the leather's reflectance"},
    {"valley_loss", &A::valley_loss, "1", {0, 0}, {0, 0.05}, {0.03, 0.15}, false,
     "share of the stamp where the grain's valleys took no foil"},
    {"wear", &A::wear, "1", {0, 0}, {0, 0.10}, {0.10, 0.35}, false,
     "share of the foil that is rubbed off"},
    {"flash", &A::flash, "mm", {0, 0}, {0, 0.05}, {0.02, 0.12}, false,
     "greatest width of foil that bridges beside an edge"},
    {"foil_roughness", &A::foil_roughness, "1", {0.2, 0.25}, {0.13, 0.24}, {0.1, 0.22}, false,
     "how far a metal foil spreads a reflection (standard deviation of slopes)"},
    {"foil_waves", &A::foil_waves, "1", {0.01, 0.02}, {0.05, 0.12}, {0.07, 0.18}, false,
     "standard deviation of the slopes of wrinkles in the foil"},
    {"stretch_x", &A::stretch_x, "1", {0, 0}, {-0.003, 0.003}, {-0.006, 0.006}, false,
     "stretch of the leather along the line"},
    {"stretch_y", &A::stretch_y, "1", {0, 0}, {-0.003, 0.003}, {-0.006, 0.006}, false,
     "stretch of the leather across the line"},
    {"shear", &A::shear, "1", {0, 0}, {-0.003, 0.003}, {-0.005, 0.005}, false,
     "shear of the leather"},
    {"along2", &A::along2, "cap heights", {0, 0}, {-0.003, 0.003}, {-0.006, 0.006}, false,
     "second-order smooth stretch along the line (amplitude of P2)"},
    {"along3", &A::along3, "cap heights", {0, 0}, {-0.002, 0.002}, {-0.004, 0.004}, false,
     "third-order smooth stretch along the line (amplitude of P3)"},
    {"across2", &A::across2, "cap heights", {0, 0}, {-0.003, 0.003}, {-0.006, 0.006}, false,
     "second-order bend of the baseline (amplitude of P2)"},
    {"across3", &A::across3, "cap heights", {0, 0}, {-0.002, 0.002}, {-0.004, 0.004}, false,
     "third-order bend of the baseline (amplitude of P3)"},
    {"cap_height_px", &A::cap_height_px, "px", {110, 130}, {70, 140}, {45, 120}, false,
     "cap height in the photo, at the middle of the stamp"},
    {"cap_height_mm", &A::cap_height_mm, "mm", {3, 3}, {2.5, 4}, {2, 4.5}, false,
     "cap height on the leather"},
    {"turn_deg", &A::turn_deg, "deg", {-2, 2}, {-12, 12}, {-180, 180}, false,
     "turn of the lettering in the picture, counter-clockwise"},
    {"tilt_deg", &A::tilt_deg, "deg", {0, 1}, {1, 10}, {5, 20}, false,
     "angle between the line of sight and the leather's normal"},
    {"tilt_axis_deg", &A::tilt_axis_deg, "deg", {0, 360}, {0, 360}, {0, 360}, false,
     "axis of the tilt, from the line of text"},
    {"distance_mm", &A::distance_mm, "mm", {280, 320}, {160, 350}, {120, 350}, false,
     "from the camera to the leather"},
    {"bend_per_mm", &A::bend_per_mm, "1/mm", {0, 0}, {0, 0.001}, {0, 0.005}, false,
     "curvature of the panel (a cylinder)"},
    {"bend_axis_deg", &A::bend_axis_deg, "deg", {0, 0}, {-20, 20}, {0, 180}, false,
     "axis of the cylinder, from the line of text"},
    {"blur_px", &A::blur_px, "px", {0.5, 0.6}, {0.6, 1.1}, {0.8, 1.8}, false,
     "standard deviation of the lens and sensor blur"},
    {"disc_px", &A::disc_px, "px", {0, 0}, {0, 0.8}, {0, 2.2}, false,
     "radius of the defocus disc"},
    {"motion_px", &A::motion_px, "px", {0, 0}, {0, 0.6}, {0, 3}, false,
     "length of the motion blur"},
    {"motion_deg", &A::motion_deg, "deg", {0, 180}, {0, 180}, {0, 180}, false,
     "direction of the motion"},
    {"noise", &A::noise, "1", {0.001, 0.002}, {0.003, 0.010}, {0.008, 0.022}, false,
     "noise at 18 % grey, linear light; grows with the square root of the signal"},
    {"exposure_ev", &A::exposure_ev, "EV", {0, 0}, {-0.4, 0.4}, {-1.2, 0.6}, false,
     "exposure away from the automatic one"},
    {"white_balance", &A::white_balance, "1", {0, 0}, {-0.12, 0.12}, {-0.25, 0.25}, false,
     "colour cast left over: red gains, blue loses this share"},
    {"sharpening", &A::sharpening, "1", {0, 0}, {0, 0.5}, {0, 0.9}, false,
     "unsharp masking by the phone, in the coded picture"},
    {"jpeg_quality", &A::jpeg_quality, "1", {96, 98}, {85, 95}, {65, 90}, true,
     "quality of the JPEG file"},
    {"light_azimuth_deg", &A::light_azimuth_deg, "deg", {115, 145}, {0, 360}, {0, 360}, false,
     "where the main light comes from, from the line of text"},
    {"light_elevation_deg", &A::light_elevation_deg, "deg", {50, 60}, {35, 70}, {20, 75}, false,
     "height of the main light over the leather"},
    {"light_size_deg", &A::light_size_deg, "deg", {22, 26}, {12, 30}, {6, 28}, false,
     "half width of the main light"},
    {"room_light", &A::room_light, "1", {0.5, 0.6}, {0.25, 0.6}, {0.12, 0.45}, false,
     "light from all round against the main light"},
    {"uneven", &A::uneven, "1", {0, 0.03}, {0.05, 0.25}, {0.15, 0.6}, false,
     "change of the light from one side of the picture to the other"},
    {"uneven_deg", &A::uneven_deg, "deg", {0, 360}, {0, 360}, {0, 360}, false,
     "direction in which the light grows"},
    {"vignetting", &A::vignetting, "1", {0, 0.02}, {0.02, 0.15}, {0.05, 0.35}, false,
     "light lost in the corners of the picture"},
    {"glare", &A::glare, "1", {0, 0}, {0, 0.03}, {0.02, 0.25}, false,
     "veil of stray light in one part of the picture"},
    {"margin", &A::margin, "cap heights", {1, 1.2}, {0.8, 2}, {0.6, 2.5}, false,
     "leather round the lettering"},
    {"stitches", &A::stitches, "switch", {0, 0}, {0, 1}, {0, 1}, true,
     "a row of stitches in the picture"},
    {"edge", &A::edge, "switch", {0, 0}, {0, 1}, {0, 1}, true,
     "the edge of the leather in the picture"},
    {"scratches", &A::scratches, "count", {0, 0}, {0, 2}, {0, 7}, true,
     "scratches, some of them over the lettering"},
    {"sparkle", &A::sparkle, "1", {0, 0}, {0, 0}, {0, 0.25}, false,
     "standard deviation of the slopes of the foil's finest creases, which glint one by one"},
};
// clang-format on

}  // namespace

std::string_view NameOf(Level level) {
  switch (level) {
    case Level::kClean:
      return "clean";
    case Level::kTypical:
      return "typical";
    case Level::kHard:
      return "hard";
  }
  return "";
}

Result<Level> LevelNamed(std::string_view name) {
  for (const Level level : {Level::kClean, Level::kTypical, Level::kHard}) {
    if (NameOf(level) == name) return level;
  }
  return Refuse(ErrorCode::kUsage, "simulate", std::string(name), "there is no such level",
                "use clean, typical or hard");
}

const Range& AmountRow::For(Level level) const {
  switch (level) {
    case Level::kClean:
      return clean;
    case Level::kTypical:
      return typical;
    case Level::kHard:
      return hard;
  }
  return typical;
}

std::span<const AmountRow> AmountTable() { return kTable; }

Amounts DrawAmounts(Level level, Random random) {
  Amounts amounts;
  for (const AmountRow& row : kTable) {
    const Range& range = row.For(level);
    const double drawn = random.Uniform(range.low, range.high);
    amounts.*row.member = row.whole ? std::round(drawn) : drawn;
  }
  return amounts;
}

Result<std::monostate> SetAmount(Amounts& amounts, std::string_view name, double value) {
  for (const AmountRow& row : kTable) {
    if (row.name != name) continue;
    double widest = 1;
    for (const Range& range : {row.clean, row.typical, row.hard}) {
      widest = std::max({widest, std::abs(range.low), std::abs(range.high)});
    }
    if (!std::isfinite(value) || std::abs(value) > 10 * widest) {
      return Refuse(ErrorCode::kUsage, "simulate", std::string(name),
                    fmt::format("{} is not a usable amount", value),
                    fmt::format("stay within {} {}", 10 * widest, row.unit));
    }
    amounts.*row.member = value;
    return std::monostate{};
  }
  return Refuse(ErrorCode::kUsage, "simulate", std::string(name), "there is no amount of that name",
                "debossier-simulate --amounts lists them");
}

}  // namespace debossier::simulate
