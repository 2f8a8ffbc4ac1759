// Degraded copies of a photo: what a customer's phone, a messenger or a marketplace makes of it.
//
// Frame: photo pixels. Not for: changes to the die or the item (simulate/departures.h).
#pragma once

#include <opencv2/core.hpp>
#include <span>
#include <string>

#include "base/result.h"
#include "image/photo.h"

namespace debossier::accuracy {

struct Degradation {
  const char* name;
  double cap_height_px = 0;  ///< Reduced to this cap height; 0: not.
  double blur_px = 0;        ///< Standard deviation of a Gaussian.
  double motion_px = 0;      ///< Length of a straight motion, at 30 degrees.
  int jpeg_quality = 92;
  double exposure = 1;  ///< Factor on the values.
  double noise = 0;     ///< Standard deviation, of 255.
};

/// Every degradation of the table of degraded copies.
std::span<const Degradation> Degradations();

/// The degraded photo as a JPEG file, loaded. `cap_height_px` is the photo's; `seed` draws the
/// noise. Refuses as image::PhotoFromBytes.
Result<image::Photo> Degrade(const image::Photo& photo, double cap_height_px,
                             const Degradation& degradation, std::uint64_t seed);

}  // namespace debossier::accuracy
