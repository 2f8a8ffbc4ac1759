// From light in the camera to a coded picture: blur, exposure, noise, white balance, sRGB.
//
// Frame: pixels. The input is linear light (blue, green, red), already averaged over each pixel.
// Not for: JPEG; see jpeg.h.
#pragma once

#include <opencv2/core.hpp>

#include "simulate/field.h"
#include "simulate/levels.h"

namespace debossier::simulate {

/// Light over the picture: one side brighter, dark corners, a veil of stray light.
void AddUnevenLight(cv::Mat3f& light, const Amounts& amounts, Random random);

/// Blur by the lens (Gaussian), defocus (disc) and motion (line), in linear light.
void Blur(cv::Mat3f& light, const Amounts& amounts);

/// The factor an automatic exposure applies: it lifts dark pictures part of the way to mid grey.
float AutomaticExposure(const cv::Mat3f& light);

/// Noise whose variance grows with the signal, white balance, the camera's shoulder, sRGB coding
/// and sharpening. `exposure` multiplies the light first.
cv::Mat3b Develop(const cv::Mat3f& light, float exposure, const Amounts& amounts, Random random);

/// Linear light kept as it is up to here; brighter light is bent towards 1.
inline constexpr float kShoulder = 0.75f;

}  // namespace debossier::simulate
