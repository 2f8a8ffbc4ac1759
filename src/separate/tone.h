// How a camera's coding bends the coverage: light mixes, codes do not.
//
// A pixel half covered by bright foil has half the foil's light but more than half of its code
// (IEC 61966-2-1), so that an edge read half way between the codes lies outside the true one by a
// part of the blur. Codes 0 to 255.
#pragma once

#include <array>
#include <opencv2/core.hpp>

namespace debossier::separate {

/// The coverage that is read in the codes for a coverage in light, both 0 on the ground and 1 on
/// the foil.
class Tone {
 public:
  Tone() = default;  ///< Leaves everything as it is.
  /// `foil` and `ground` are codes in the picture, any order of channels; `weight` is the
  /// direction in which coverage is read.
  Tone(const cv::Vec3f& foil, const cv::Vec3f& ground, const cv::Vec3f& weight);
  /// Linear between 64 steps; held at the ends.
  float operator()(float light) const;

 private:
  static constexpr int kSteps = 64;
  std::array<float, kSteps + 1> read_{};
  bool none_ = true;
};

/// Codes to light of 0 to 1 and back, by IEC 61966-2-1.
double LightOfCode(double code);
double CodeOfLight(double light);

}  // namespace debossier::separate
