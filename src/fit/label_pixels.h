// Pixels of a cut-out that are surely foil and surely ground, where the placed outlines say so.
//
// Frame: map pixels, y down. From them guided coverage learns what both look like in this photo.
// Not for: telling foil from ground by colour; these masks know the outlines only.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "fit/fit_element.h"
#include "fit/placement.h"
#include "outline/lettering.h"

namespace debossier::fit {

/// Masks, CV_8U.
struct Labels {
  cv::Mat foil;
  cv::Mat ground;
};

/// Draws the elements under the placement, each moved as far as it was found to be (`moved` may be
/// shorter than the lettering). `cap_px` in map pixels: ground is what lies within one cap height
/// of the lettering, clear of the rim.
Labels LabelPixels(const Placement& map_from_stamp, const outline::Lettering& lettering,
                   const std::vector<ElementFit>& moved, const cv::Size& size, double cap_px);

}  // namespace debossier::fit
