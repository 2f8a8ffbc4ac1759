#include "separate/tone.h"

#include <algorithm>
#include <cmath>

namespace debossier::separate {

double LightOfCode(double code) {
  const double c = std::clamp(code / 255, 0.0, 1.0);
  return c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
}

double CodeOfLight(double light) {
  const double l = std::clamp(light, 0.0, 1.0);
  return 255 * (l <= 0.0031308 ? 12.92 * l : 1.055 * std::pow(l, 1 / 2.4) - 0.055);
}

Tone::Tone(const cv::Vec3f& foil, const cv::Vec3f& ground, const cv::Vec3f& weight) {
  const double whole = weight.dot(foil - ground);
  if (!(whole > 0)) return;
  none_ = false;
  for (int k = 0; k <= kSteps; ++k) {
    const double share = k / static_cast<double>(kSteps);
    double read = 0;
    for (int c = 0; c < 3; ++c) {
      const double light =
          LightOfCode(ground[c]) + share * (LightOfCode(foil[c]) - LightOfCode(ground[c]));
      read += weight[c] * (CodeOfLight(light) - ground[c]);
    }
    read_[static_cast<std::size_t>(k)] = static_cast<float>(read / whole);
  }
}

float Tone::operator()(float light) const {
  if (none_) return light;
  const float at = std::clamp(light, 0.f, 1.f) * kSteps;
  const int k = std::min(static_cast<int>(at), kSteps - 1);
  const float rest = at - static_cast<float>(k);
  return read_[k] + rest * (read_[k + 1] - read_[k]);
}

}  // namespace debossier::separate
