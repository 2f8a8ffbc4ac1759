// A drawn photo of gold lettering on brown leather, with the true edge of the foil.
//
// Frames: outlines in the stamp frame, edges in photo pixels.
// Not for: realistic trials of separation and fit; the simulator models the process itself.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "fit/placement.h"
#include "image/photo.h"
#include "outline/outline.h"

namespace debossier::test_support {

struct PictureOptions {
  cv::Size size{1120, 640};
  std::string extension = ".jpg";
  int exif_orientation = 1;
  bool grey = false;
};

struct SamplePicture {
  image::Photo photo;
  std::vector<std::vector<outline::Polyline>> foil_edges;  ///< One list for each outline.
};

SamplePicture DrawSamplePicture(const std::vector<outline::Outline>& stamped,
                                const fit::Placement& placement, const PictureOptions& options);

}  // namespace debossier::test_support
