#include "simulate/impression.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace debossier::simulate {
namespace {

float SmoothStep(float t) {
  t = std::clamp(t, 0.0f, 1.0f);
  return t * t * (3 - 2 * t);
}

double WallWidth(const Amounts& amounts) {
  return amounts.depth_mm /
         std::tan(std::clamp(amounts.wall_deg, 10.0, 80.0) * std::numbers::pi / 180);
}

/// A tilted, slightly bent plane over the field, mean 0, within about +-1.
Field PressureField(const Field& distance, Random random) {
  const double slope_x = random.Uniform(-1, 1);
  const double slope_y = random.Uniform(-0.5, 0.5);
  const double bend = random.Uniform(-0.7, 0.7);
  Field pressure(distance.size());
  double sum = 0;
  double count = 0;
  for (int j = 0; j < pressure.rows; ++j) {
    const double v = 2.0 * j / pressure.rows - 1;
    for (int i = 0; i < pressure.cols; ++i) {
      const double u = 2.0 * i / pressure.cols - 1;
      pressure(j, i) = static_cast<float>(slope_x * u + slope_y * v + bend * u * u);
      if (distance(j, i) > 0) continue;
      sum += pressure(j, i);
      count += 1;
    }
  }
  if (count > 0) Scale(pressure, 1, -sum / count);
  return pressure;
}

/// Deviation of the foil's edge, in standard deviations: part of it follows the grain, since foil
/// does not reach down into a valley.
Field RaggedField(const Field& grain, double cells_per_mm, const Amounts& amounts, Random random) {
  Field own =
      SmoothNoise(grain.size(), amounts.ragged_length_mm / 1.15 * cells_per_mm, random.Fork(1));
  Field valleys = Blurred(grain, 0.25 * amounts.ragged_length_mm * cells_per_mm);
  Standardise(valleys);
  for (float& value : valleys) value = std::clamp(value, -2.0f, 1.0f);
  Standardise(valleys);
  Scale(own, 0.8);
  AddScaled(own, valleys, 0.6);
  return own;
}

/// Further reach of the foil where it bridges beside an edge, mm.
Field FlashField(cv::Size size, double cells_per_mm, double width_mm, Random random) {
  const Field where = SmoothNoise(size, 0.9 * cells_per_mm, random.Fork(1));
  const Field threads = SmoothNoise(size, 0.07 * cells_per_mm, random.Fork(2));
  Field flash(size);
  const auto width = static_cast<float>(width_mm);
  for (int j = 0; j < size.height; ++j) {
    for (int i = 0; i < size.width; ++i) {
      const float patch = SmoothStep((where(j, i) - 1.0f) * 1.2f);
      const float thread = std::clamp(0.55f + 0.45f * threads(j, i), 0.0f, 1.4f);
      flash(j, i) = width * patch * thread;
    }
  }
  return flash;
}

/// Large where the foil rubs off first: patches, on the tops of the grain, near edges.
Field WearField(const Field& distance, const Field& grain, double cells_per_mm, Random random) {
  const cv::Size size = grain.size();
  Field tops = grain.clone();
  Standardise(tops);
  const Field patches = FractalNoise(size, 1.6 * cells_per_mm, 3, 0.7, random.Fork(1));
  const Field crumbs = FractalNoise(size, 0.16 * cells_per_mm, 2, 0.8, random.Fork(2));
  Field wear(size);
  for (int j = 0; j < size.height; ++j) {
    for (int i = 0; i < size.width; ++i) {
      const float rim = std::exp(-std::abs(distance(j, i)) / 0.05f);
      wear(j, i) = patches(j, i) + 0.55f * crumbs(j, i) + 0.5f * tops(j, i) + 0.25f * rim;
    }
  }
  return wear;
}

void TakeLower(Field& to, const Field& from) {
  for (int j = 0; j < to.rows; ++j) {
    for (int i = 0; i < to.cols; ++i) to(j, i) = std::min(to(j, i), from(j, i));
  }
}

Field KeepField(const Field& distance, const Field& grain, double cells_per_mm,
                const Amounts& amounts, Random random) {
  Field keep(grain.size(), 10.0f);
  Field face = distance.clone();
  Scale(face, -1);  // Positive under the die.
  if (amounts.valley_loss > 0) {
    // A valley counts against the grain round it: the die bridges it.
    Field valleys = grain.clone();
    AddScaled(valleys, Blurred(grain, 0.35 * cells_per_mm), -1);
    Standardise(valleys);
    const Field crumbs = SmoothNoise(grain.size(), 0.12 * cells_per_mm, random.Fork(1));
    AddScaled(valleys, crumbs, 0.3);
    const float limit = Quantile(valleys, amounts.valley_loss, face);
    Scale(valleys, 3, -3 * limit);
    TakeLower(keep, valleys);
  }
  if (amounts.wear > 0) {
    Field wear = WearField(distance, grain, cells_per_mm, random.Fork(2));
    const float limit = Quantile(wear, 1 - amounts.wear, face);
    Scale(wear, -2.5, 2.5 * limit);
    TakeLower(keep, wear);
  }
  return keep;
}

void Sink(const Field& distance, const Field& grain, const Field& pressure, const Amounts& amounts,
          Impression& out) {
  const double wall = std::max(WallWidth(amounts), 1e-3);
  const auto depth = static_cast<float>(amounts.depth_mm);
  const auto left = static_cast<float>(amounts.grain_left);
  const auto uneven = static_cast<float>(amounts.pressure / 3);
  const auto width = static_cast<float>(wall);
  out.relief.create(grain.size());
  out.face.create(grain.size());
  for (int j = 0; j < grain.rows; ++j) {
    for (int i = 0; i < grain.cols; ++i) {
      const float d = distance(j, i);
      const float face = SmoothStep(1 - d / width);
      const float local = depth * std::max(0.2f, 1 + uneven * pressure(j, i));
      const float past = (d - 1.5f * width) / (0.8f * width);
      const float bulge = 0.10f * local * std::exp(-past * past);
      out.face(j, i) = face;
      out.relief(j, i) = grain(j, i) * (1 - face * (1 - left)) - local * face + bulge;
    }
  }
}

}  // namespace

double Reach(const Amounts& amounts) {
  const double foil = std::abs(amounts.gain_mm + amounts.dwell_mm) + 1.5 * amounts.flash +
                      4 * amounts.ragged_mm + 0.04 * amounts.pressure + 0.05;
  return std::max(foil, 3.5 * WallWidth(amounts));
}

Impression Press(const Field& distance, const Field& grain, double cells_per_mm,
                 const Amounts& amounts, Random random) {
  Impression out;
  const Field pressure = PressureField(distance, random.Fork(1));
  const Field ragged = RaggedField(grain, cells_per_mm, amounts, random.Fork(2));
  const Field flash = FlashField(grain.size(), cells_per_mm, amounts.flash, random.Fork(3));
  const auto gain = static_cast<float>(amounts.gain_mm + amounts.dwell_mm);
  const auto uneven = static_cast<float>(0.02 * amounts.pressure);
  const auto raggedness = static_cast<float>(amounts.ragged_mm);
  const auto at_edge = static_cast<float>(1 / cells_per_mm);
  double sum = 0;
  double count = 0;
  out.edge.create(grain.size());
  for (int j = 0; j < grain.rows; ++j) {
    for (int i = 0; i < grain.cols; ++i) {
      const float local = gain + uneven * pressure(j, i);
      out.edge(j, i) = distance(j, i) - local - raggedness * ragged(j, i) - flash(j, i);
      if (std::abs(distance(j, i)) > at_edge) continue;
      sum += local;
      count += 1;
    }
  }
  out.mean_gain_mm = count > 0 ? sum / count : gain;
  out.keep = KeepField(distance, grain, cells_per_mm, amounts, random.Fork(4));
  Sink(distance, grain, pressure, amounts, out);
  return out;
}

}  // namespace debossier::simulate
