// Every amount of the simulation, and the range each level draws it from, in one table.
//
// `clean`: nearly nothing in the way. `typical`: a usual careful phone photo of an item in good
// order. `hard`: strong wear, steep tilt, blur, glare, low light, strong grain.
// The ranges are estimates from looking at photographs of stamped goods, not measurements.
// Units are in the table; lengths in mm are on the leather, in px in the photo.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <variant>

#include "base/result.h"
#include "simulate/random.h"

namespace debossier::simulate {

enum class Level { kClean, kTypical, kHard };

std::string_view NameOf(Level level);
Result<Level> LevelNamed(std::string_view name);

/// One draw: every amount as a number. Counts are whole numbers; switches are 0 or 1.
struct Amounts {
  // Pressing.
  double gain_mm = 0;
  double dwell_mm = 0;
  double pressure = 0;
  double ragged_mm = 0;
  double ragged_length_mm = 0;
  double depth_mm = 0;
  double wall_deg = 0;
  // Leather.
  double grain_size = 0;
  double grain_depth = 0;
  double grain_left = 0;
  double mottling = 0;
  // Foil.
  double valley_loss = 0;
  double wear = 0;
  double flash = 0;
  double foil_roughness = 0;
  double foil_waves = 0;
  double sparkle = 0;
  // Leather stretch.
  double stretch_x = 0;
  double stretch_y = 0;
  double shear = 0;
  double along2 = 0;
  double along3 = 0;
  double across2 = 0;
  double across3 = 0;
  // Camera.
  double cap_height_px = 0;
  double cap_height_mm = 0;
  double turn_deg = 0;
  double tilt_deg = 0;
  double tilt_axis_deg = 0;
  double distance_mm = 0;
  double bend_per_mm = 0;
  double bend_axis_deg = 0;
  double blur_px = 0;
  double disc_px = 0;
  double motion_px = 0;
  double motion_deg = 0;
  double noise = 0;
  double exposure_ev = 0;
  double white_balance = 0;
  double sharpening = 0;
  double jpeg_quality = 0;
  // Light.
  double light_azimuth_deg = 0;
  double light_elevation_deg = 0;
  double light_size_deg = 0;
  double room_light = 0;
  double uneven = 0;
  double uneven_deg = 0;
  double vignetting = 0;
  double glare = 0;
  // What else is in the crop.
  double margin = 0;
  double stitches = 0;
  double edge = 0;
  double scratches = 0;
};

struct Range {
  double low = 0;
  double high = 0;
};

/// One row of the table.
struct AmountRow {
  const char* name;
  double Amounts::*member;
  const char* unit;
  Range clean;
  Range typical;
  Range hard;
  bool whole;  ///< Rounded to a whole number after drawing.
  const char* meaning;

  const Range& For(Level level) const;
};

/// The table, in drawing order. New rows go to the end, so that a seed keeps its meaning.
std::span<const AmountRow> AmountTable();

/// Draws every amount of `level`, each uniform in its range.
Amounts DrawAmounts(Level level, Random random);

/// Sets one amount by name. Refuses an unknown name and numbers that are not finite or lie beyond
/// ten times the widest range of the table.
Result<std::monostate> SetAmount(Amounts& amounts, std::string_view name, double value);

}  // namespace debossier::simulate
