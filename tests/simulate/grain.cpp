#include "simulate/grain.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace debossier::simulate {
namespace {

constexpr float kPi = std::numbers::pi_v<float>;

/// Rises from the groove between two cells to a flat top.
float Plateau(float gap, float softness) { return 1 - std::exp(-gap / softness); }

/// Rounded pebbles of uneven height. The grooves between them deepen and fade from place to place,
/// and finer wrinkles run over the tops.
Field Pebbled(cv::Size size, double cells_per_mm, double grain_size, Random& random) {
  CellularOptions coarse;
  coarse.cell = random.Uniform(0.5, 0.8) * grain_size * cells_per_mm;
  coarse.jitter = 0.95;
  coarse.elongation = random.Uniform(1.0, 1.45);
  coarse.angle = random.Uniform(0, std::numbers::pi);
  coarse.warp = 0.13;
  const Cellular pebbles = CellularNoise(size, coarse, random.Fork(1));
  CellularOptions fine = coarse;
  fine.cell = 0.38 * coarse.cell;
  fine.elongation = 1;
  const Cellular wrinkles = CellularNoise(size, fine, random.Fork(2));
  const Field groove = SmoothNoise(size, 1.3 * coarse.cell, random.Fork(3));
  const Field wrinkled = SmoothNoise(size, 1.1 * coarse.cell, random.Fork(4));
  const Field swell = SmoothNoise(size, 0.45 * coarse.cell, random.Fork(5));
  const Field fibre = FractalNoise(size, 0.07 * cells_per_mm, 2, 0.8, random.Fork(6));

  Field relief(size);
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      for (int i = 0; i < size.width; ++i) {
        const float gap = pebbles.second(j, i) - pebbles.nearest(j, i);
        const float depth = std::clamp(0.75f + 0.3f * groove(j, i), 0.15f, 1.2f);
        const float dome = Plateau(gap, 0.26f) - 0.30f * pebbles.nearest(j, i);
        const float top = depth * dome + 0.16f * pebbles.level(j, i) * Plateau(gap, 0.3f);
        const float fine_gap = wrinkles.second(j, i) - wrinkles.nearest(j, i);
        const float share = std::clamp(0.10f + 0.06f * wrinkled(j, i), 0.0f, 0.25f);
        relief(j, i) = 0.095f * (top + share * Plateau(fine_gap, 0.35f) + 0.05f * swell(j, i)) +
                       0.0011f * fibre(j, i);
      }
    }
  });
  return relief;
}

/// Pores in loose rows, faint creases, fibre.
Field Smooth(cv::Size size, double cells_per_mm, double grain_size, Random& random) {
  CellularOptions pore;
  pore.cell = random.Uniform(0.22, 0.32) * grain_size * cells_per_mm;
  pore.jitter = 0.95;
  pore.elongation = random.Uniform(1.0, 1.3);
  pore.angle = random.Uniform(0, std::numbers::pi);
  const Cellular pores = CellularNoise(size, pore, random.Fork(1));
  CellularOptions crease = pore;
  crease.cell = 1.9 * pore.cell;
  crease.elongation = random.Uniform(1.2, 1.9);
  crease.warp = 0.5;
  const Cellular creases = CellularNoise(size, crease, random.Fork(2));
  const Field presence = SmoothNoise(size, 3 * crease.cell, random.Fork(3));
  const Field swell = FractalNoise(size, 1.2 * cells_per_mm, 3, 0.5, random.Fork(4));
  const Field fibre = FractalNoise(size, 0.06 * cells_per_mm, 2, 0.8, random.Fork(5));

  Field relief(size);
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      for (int i = 0; i < size.width; ++i) {
        const float depth = pores.level(j, i) > 0.55f ? pores.level(j, i) - 0.55f : 0;
        const float at = pores.nearest(j, i) / 0.20f;
        const float pit = 0.030f * depth * std::exp(-at * at);
        const float gap = creases.second(j, i) - creases.nearest(j, i);
        const float fold = 0.007f * (1 + 0.5f * presence(j, i)) * Plateau(gap, 0.14f);
        relief(j, i) = fold - pit + 0.006f * swell(j, i) + 0.0014f * fibre(j, i);
      }
    }
  });
  return relief;
}

/// Fine diagonal ridges pressed by a roller, cut by a second set of grooves into short dashes,
/// under a thick finish that rounds them.
Field CrossGrained(cv::Size size, double cells_per_mm, double grain_size, Random& random) {
  const double period = random.Uniform(0.34, 0.5) * grain_size * cells_per_mm;
  const double angle = random.Uniform(0.65, 0.92) * (random.Below(2) == 0 ? 1 : -1);
  const double crossing = angle + random.Uniform(1.1, 1.7);
  const double crossing_period = random.Uniform(1.2, 1.7) * period;
  const auto ux = static_cast<float>(std::cos(angle) / period);
  const auto uy = static_cast<float>(std::sin(angle) / period);
  const auto vx = static_cast<float>(std::cos(crossing) / crossing_period);
  const auto vy = static_cast<float>(std::sin(crossing) / crossing_period);
  const Field warp_u = SmoothNoise(size, 3.0 * period, random.Fork(1));
  const Field warp_v = FractalNoise(size, 2.0 * period, 2, 0.5, random.Fork(2));
  const Field strength = SmoothNoise(size, 1.1 * period, random.Fork(3));
  const Field fibre = FractalNoise(size, 0.06 * cells_per_mm, 2, 0.8, random.Fork(4));

  Field relief(size);
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      for (int i = 0; i < size.width; ++i) {
        const auto x = static_cast<float>(i);
        const auto y = static_cast<float>(j);
        const float u = x * ux + y * uy + 0.10f * warp_u(j, i);
        // Each ridge is cut at places of its own.
        const float v = x * vx + y * vy + 0.13f * warp_v(j, i) + 0.37f * std::floor(u);
        const float in_groove = std::abs(std::cos(kPi * u));
        const float ridge = 1 - in_groove * in_groove * in_groove;
        const float in_cut = std::abs(std::cos(kPi * v));
        const float cut = in_cut * in_cut * in_cut * in_cut;
        const float depth = std::clamp(0.55f + 0.22f * strength(j, i), 0.0f, 0.95f);
        relief(j, i) = 0.050f * ridge * (1 - depth * cut) + 0.0008f * fibre(j, i);
      }
    }
  });
  return relief;
}

/// Heights of a periodic picture of normals.
Field IntegratedNormals(const cv::Mat& bgr) {
  cv::Mat1f slope_x(bgr.size());
  cv::Mat1f slope_y(bgr.size());
  for (int j = 0; j < bgr.rows; ++j) {
    for (int i = 0; i < bgr.cols; ++i) {
      const cv::Vec3b& pixel = bgr.at<cv::Vec3b>(j, i);
      const float z = std::max(0.2f, static_cast<float>(pixel[0]) / 127.5f - 1);
      slope_x(j, i) = -(static_cast<float>(pixel[2]) / 127.5f - 1) / z;
      slope_y(j, i) = (static_cast<float>(pixel[1]) / 127.5f - 1) / z;
    }
  }
  cv::Mat2f spectrum_x;
  cv::Mat2f spectrum_y;
  cv::dft(slope_x, spectrum_x, cv::DFT_COMPLEX_OUTPUT);
  cv::dft(slope_y, spectrum_y, cv::DFT_COMPLEX_OUTPUT);
  for (int j = 0; j < bgr.rows; ++j) {
    const float wy = 2 * kPi * static_cast<float>(j <= bgr.rows / 2 ? j : j - bgr.rows) /
                     static_cast<float>(bgr.rows);
    for (int i = 0; i < bgr.cols; ++i) {
      const float wx = 2 * kPi * static_cast<float>(i <= bgr.cols / 2 ? i : i - bgr.cols) /
                       static_cast<float>(bgr.cols);
      const float power = wx * wx + wy * wy;
      const cv::Vec2f p = spectrum_x(j, i);
      const cv::Vec2f q = spectrum_y(j, i);
      // -i (wx P + wy Q) / (wx^2 + wy^2)
      spectrum_x(j, i) =
          power > 0 ? cv::Vec2f((wx * p[1] + wy * q[1]) / power, -(wx * p[0] + wy * q[0]) / power)
                    : cv::Vec2f(0, 0);
    }
  }
  Field heights;
  cv::dft(spectrum_x, heights, cv::DFT_INVERSE | cv::DFT_REAL_OUTPUT | cv::DFT_SCALE);
  return heights;
}

Field Brightness(const cv::Mat& bgr) {
  Field brightness(bgr.size());
  for (int j = 0; j < bgr.rows; ++j) {
    for (int i = 0; i < bgr.cols; ++i) {
      const cv::Vec3b& p = bgr.at<cv::Vec3b>(j, i);
      brightness(j, i) = static_cast<float>(p[0] + 2 * p[1] + p[2]);
    }
  }
  AddScaled(brightness, Blurred(brightness, 0.1 * bgr.cols), -1);
  return brightness;
}

float MirroredValue(const Field& field, double x, double y) {
  const auto fold = [](double at, int count) {
    const double period = 2.0 * (count - 1);
    at = std::fmod(std::abs(at), period);
    return at < count - 1 ? at : period - at;
  };
  x = fold(x, field.cols);
  y = fold(y, field.rows);
  const int i = std::min(static_cast<int>(x), field.cols - 2);
  const int j = std::min(static_cast<int>(y), field.rows - 2);
  const auto u = static_cast<float>(x - i);
  const auto v = static_cast<float>(y - j);
  return (1 - v) * ((1 - u) * field(j, i) + u * field(j, i + 1)) +
         v * ((1 - u) * field(j + 1, i) + u * field(j + 1, i + 1));
}

}  // namespace

Field GrainRelief(Leather kind, cv::Size size, double cells_per_mm, const Amounts& amounts,
                  Random random) {
  Field relief;
  switch (kind) {
    case Leather::kPebbled:
      relief = Pebbled(size, cells_per_mm, amounts.grain_size, random);
      break;
    case Leather::kSmooth:
      relief = Smooth(size, cells_per_mm, amounts.grain_size, random);
      break;
    case Leather::kCrossGrain:
      relief = CrossGrained(size, cells_per_mm, amounts.grain_size, random);
      break;
  }
  Scale(relief, amounts.grain_depth, -amounts.grain_depth * Mean(relief));
  return relief;
}

Result<Field> ReliefFromPicture(const SurfacePicture& picture, cv::Size size, double cells_per_mm,
                                const Amounts& amounts) {
  if (picture.bgr.type() != CV_8UC3 || picture.bgr.cols < 16 || picture.bgr.rows < 16 ||
      picture.bgr.total() > 16'000'000 || !(picture.width_mm > 0.1)) {
    return Refuse(ErrorCode::kUsage, "simulate", "surface", "the picture cannot serve as a surface",
                  "give a colour picture of 16 px to 16 megapixels and its width in mm");
  }
  Field source = picture.is_normal_map ? IntegratedNormals(picture.bgr) : Brightness(picture.bgr);
  Standardise(source);
  // A pebbled grain's relief has a standard deviation of about 0.022 mm.
  const double step = picture.bgr.cols / (picture.width_mm * amounts.grain_size * cells_per_mm);
  Field relief(size);
  for (int j = 0; j < size.height; ++j) {
    for (int i = 0; i < size.width; ++i) relief(j, i) = MirroredValue(source, i * step, j * step);
  }
  const double scale = 0.022 * amounts.grain_depth;
  Scale(relief, scale, -scale * Mean(relief));
  return relief;
}

Field Mottling(cv::Size size, double cells_per_mm, const Amounts& amounts, Random random) {
  Field factor = FractalNoise(size, 4 * cells_per_mm, 3, 0.6, random.Fork(1));
  const Field fibre = FractalNoise(size, 0.12 * cells_per_mm, 3, 0.9, random.Fork(2));
  AddScaled(factor, fibre, 0.65 / 0.75);
  Scale(factor, 0.75 * amounts.mottling);
  for (float& value : factor) value = std::exp(value);
  return factor;
}

}  // namespace debossier::simulate
