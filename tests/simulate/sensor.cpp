#include "simulate/sensor.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "simulate/materials.h"

namespace debossier::simulate {
namespace {

constexpr double kRadians = std::numbers::pi / 180;

/// A small blur kernel: a disc swept along a line, by counting fine sample points.
Field DiscAndMotion(double disc_px, double motion_px, double motion_deg) {
  const double reach = disc_px + 0.5 * motion_px;
  const int radius = static_cast<int>(std::ceil(reach + 0.5));
  Field kernel(2 * radius + 1, 2 * radius + 1, 0.0f);
  const double along_x = std::cos(motion_deg * kRadians);
  const double along_y = -std::sin(motion_deg * kRadians);
  constexpr int kFine = 41;
  for (int s = 0; s < kFine; ++s) {
    const double shift = motion_px * ((s + 0.5) / kFine - 0.5);
    for (int a = 0; a < kFine; ++a) {
      for (int b = 0; b < kFine; ++b) {
        const double u = 2 * (a + 0.5) / kFine - 1;
        const double v = 2 * (b + 0.5) / kFine - 1;
        if (u * u + v * v > 1) continue;
        const double x = u * disc_px + shift * along_x + radius;
        const double y = v * disc_px + shift * along_y + radius;
        const int i = static_cast<int>(x);
        const int j = static_cast<int>(y);
        const double fx = x - i;
        const double fy = y - j;
        kernel(j, i) += static_cast<float>((1 - fx) * (1 - fy));
        kernel(j, i + 1) += static_cast<float>(fx * (1 - fy));
        kernel(j + 1, i) += static_cast<float>((1 - fx) * fy);
        kernel(j + 1, i + 1) += static_cast<float>(fx * fy);
      }
    }
  }
  Scale(kernel, 1 / (Mean(kernel) * static_cast<double>(kernel.total())));
  return kernel;
}

int Mirrored(int i, int count) {
  if (i < 0) i = -i;
  if (i >= count) i = 2 * (count - 1) - i;
  return std::clamp(i, 0, count - 1);
}

Field Convolved(const Field& field, const Field& kernel) {
  const int radius = kernel.rows / 2;
  Field out(field.size(), 0.0f);
  cv::parallel_for_(cv::Range(0, field.rows), [&](const cv::Range& range) {
    std::vector<float> padded(static_cast<std::size_t>(field.cols + 2 * radius));
    for (int j = range.start; j < range.end; ++j) {
      float* sum = out[j];
      for (int b = -radius; b <= radius; ++b) {
        const float* in = field[Mirrored(j + b, field.rows)];
        std::copy(in, in + field.cols, padded.begin() + radius);
        for (int i = 1; i <= radius; ++i) {
          padded[radius - i] = in[Mirrored(-i, field.cols)];
          padded[radius + field.cols - 1 + i] = in[Mirrored(field.cols - 1 + i, field.cols)];
        }
        for (int a = -radius; a <= radius; ++a) {
          const float tap = kernel(b + radius, a + radius);
          if (tap == 0) continue;
          for (int i = 0; i < field.cols; ++i) sum[i] += tap * padded[i + a + radius];
        }
      }
    }
  });
  return out;
}

/// Keeps light up to the shoulder and bends what is brighter towards 1.
float Toned(float linear) {
  if (linear <= kShoulder) return std::max(linear, 0.0f);
  const float room = 1 - kShoulder;
  return kShoulder + room * (1 - std::exp((kShoulder - linear) / room));
}

/// sRGB coding by table, linear between 4096 steps of the square root of the light: the code's
/// steepest part is then resolved to a hundredth of an 8-bit step.
class Coder {
 public:
  Coder() {
    for (int k = 0; k <= kSteps; ++k) {
      const float root = static_cast<float>(k) / kSteps;
      table_[k] = 255 * SrgbFromLinear(Toned(root * root * kBrightest));
    }
  }
  float operator()(float linear) const {
    const float root = std::sqrt(std::clamp(linear / kBrightest, 0.0f, 0.99999f)) * kSteps;
    const int k = static_cast<int>(root);
    const float rest = root - static_cast<float>(k);
    return table_[k] * (1 - rest) + table_[k + 1] * rest;
  }

 private:
  static constexpr int kSteps = 4096;
  static constexpr float kBrightest = 4;
  std::array<float, kSteps + 1> table_{};
};

/// White noise, a little smoothed as demosaicking does, variance 1.
Field SensorNoise(cv::Size size, Random random) {
  Field noise(size);
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      Random row = random.Fork(j);
      for (int i = 0; i < size.width; ++i) noise(j, i) = row.FieldNormal();
    }
  });
  Field smooth = Blurred(noise, 0.55);
  // The sum of squares of the taps of a Gaussian of 0.55 px, in two dimensions.
  Scale(smooth, 1 / 0.559);
  return smooth;
}

}  // namespace

void AddUnevenLight(cv::Mat3f& light, const Amounts& amounts, Random random) {
  const double angle = amounts.uneven_deg * kRadians;
  const auto toward_x = static_cast<float>(std::cos(angle));
  const auto toward_y = static_cast<float>(-std::sin(angle));
  const auto uneven = static_cast<float>(0.5 * amounts.uneven);
  const auto corner = static_cast<float>(amounts.vignetting);
  const auto glare = static_cast<float>(amounts.glare);
  const auto spot_x = static_cast<float>(random.Uniform(-1, 1));
  const auto spot_y = static_cast<float>(random.Uniform(-1, 1));
  const auto spot = static_cast<float>(random.Uniform(0.5, 1.1));
  const float aspect = static_cast<float>(light.rows) / static_cast<float>(light.cols);
  cv::parallel_for_(cv::Range(0, light.rows), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      const float y = 2 * static_cast<float>(j) / static_cast<float>(light.rows) - 1;
      for (int i = 0; i < light.cols; ++i) {
        const float x = 2 * static_cast<float>(i) / static_cast<float>(light.cols) - 1;
        const float factor =
            (1 + uneven * (x * toward_x + y * toward_y)) * (1 - corner * 0.5f * (x * x + y * y));
        const float dx = (x - spot_x) / spot;
        const float dy = (y - spot_y) * aspect / spot;
        const float veil = glare > 0 ? glare * std::exp(-dx * dx - dy * dy) : 0;
        light(j, i) = light(j, i) * std::max(factor, 0.05f) + cv::Vec3f(veil, veil, veil);
      }
    }
  });
}

void Blur(cv::Mat3f& light, const Amounts& amounts) {
  std::vector<cv::Mat> channels;
  cv::split(light, channels);
  const bool spread = amounts.disc_px > 0.15 || amounts.motion_px > 0.3;
  const Field kernel =
      spread ? DiscAndMotion(std::max(amounts.disc_px, 0.05), amounts.motion_px, amounts.motion_deg)
             : Field();
  for (cv::Mat& channel : channels) {
    Field blurred = Blurred(channel, amounts.blur_px);
    if (spread) blurred = Convolved(blurred, kernel);
    channel = blurred;
  }
  cv::merge(channels, light);
}

float AutomaticExposure(const cv::Mat3f& light) {
  double sum = 0;
  for (const cv::Vec3f& pixel : light) {
    sum += 0.0722 * pixel[0] + 0.7152 * pixel[1] + 0.2126 * pixel[2];
  }
  const double mean = std::max(sum / static_cast<double>(light.total()), 1e-3);
  return static_cast<float>(std::clamp(std::pow(0.16 / mean, 0.45), 0.4, 3.0));
}

cv::Mat3b Develop(const cv::Mat3f& light, float exposure, const Amounts& amounts, Random random) {
  static const Coder kCode;
  const auto cast = static_cast<float>(amounts.white_balance);
  const cv::Vec3f gains = cv::Vec3f(1 - cast, 1, 1 + cast) * exposure;
  // Nine tenths of the variance at 18 % grey is photon noise, the rest is the same everywhere.
  const auto variance = static_cast<float>(amounts.noise * amounts.noise);
  std::vector<cv::Mat> channels(3);
  for (int c = 0; c < 3; ++c) {
    const Field noise = SensorNoise(light.size(), random.Fork(c));
    Field coded(light.size());
    cv::parallel_for_(cv::Range(0, light.rows), [&](const cv::Range& range) {
      for (int j = range.start; j < range.end; ++j) {
        for (int i = 0; i < light.cols; ++i) {
          const float signal = light(j, i)[c] * gains[c];
          const float deviation = std::sqrt(variance * (0.1f + 5.0f * std::max(signal, 0.0f)));
          coded(j, i) = kCode(signal + deviation * noise(j, i));
        }
      }
    });
    if (amounts.sharpening > 0) {
      const Field soft = Blurred(coded, 1.0);
      Scale(coded, 1 + amounts.sharpening);
      AddScaled(coded, soft, -amounts.sharpening);
    }
    channels[c] = coded;
  }
  cv::Mat3b picture(light.size());
  for (int j = 0; j < light.rows; ++j) {
    for (int i = 0; i < light.cols; ++i) {
      for (int c = 0; c < 3; ++c) {
        const float value = channels[c].at<float>(j, i);
        picture(j, i)[c] = static_cast<unsigned char>(std::clamp(value + 0.5f, 0.0f, 255.0f));
      }
    }
  }
  return picture;
}

}  // namespace debossier::simulate
