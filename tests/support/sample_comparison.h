// A hand-made comparison with its photo, for tests of what reports print and draw.
//
// The maker and the lettering are invented; the photo is drawn here. The numbers are made up with a
// fixed generator: they are consistent with each other, but nothing was measured.
// Frames: as in compare/comparison.h and image/photo.h.
// Not for: tests of measuring; the simulator makes photos with known truth.
#pragma once

#include <string>

#include "compare/comparison.h"
#include "image/photo.h"

namespace debossier::test_support {

struct SampleOptions {
  compare::Finding finding = compare::Finding::kDeparts;
  double turn_deg = 6;             ///< Of the lettering in the photo, counter-clockwise.
  int exif_orientation = 1;        ///< The stored picture is turned so that this undoes it.
  std::string extension = ".jpg";  ///< ".jpg" or ".png".
  bool grey = false;               ///< A JPEG of one component.
};

struct Sample {
  compare::Comparison comparison;
  image::Photo photo;
};

/// TALVENNE ® over MADE IN ELVANTE: 22 elements, about 60 features.
Sample MakeSample(const SampleOptions& options = {});

/// A comparison that found nothing: no elements, features or reasons; the photo is bare leather.
Sample MakeEmptySample();

/// `count` letters over several lines, all of them departing.
Sample MakeCrowdedSample(int count);

}  // namespace debossier::test_support
