// The coverage map that a lettering would give at its fitted place: what readings of a photo are
// compared with, so that all that blur and sampling do to an edge cancels.
//
// Exact area coverage of every pixel, under a Gaussian of the photo's own blur, in light; coded as
// a camera does, and separated by the code that separates the photo. Two renderings, one a little
// sharper and one a little softer than the photo, carry what the blur's uncertainty does.
// Frame: pixels of the coverage map. Not for: light and leather; see simulate for those.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "fit/fit_element.h"
#include "fit/label_pixels.h"
#include "outline/lettering.h"
#include "separate/coverage.h"
#include "separate/tone.h"

namespace debossier::fit {

/// Both renderings, and how the photo stands between them.
struct RenderedReference {
  cv::Rect part;                      ///< Of the map, beyond which there is no foil.
  cv::Mat sharper;                    ///< CV_32F, of the part.
  cv::Mat softer;                     ///< The same; empty where one rendering does.
  Placement placement;                ///< Part from stamp, as drawn.
  std::vector<ElementVector> values;  ///< The elements' fits, as drawn.
  double blur_px = 0;                 ///< Of the photo's edges, map pixels.
  double share = 0;       ///< The photo's blur: 0 as the sharper, 1 as the softer; may lie outside.
  double u_share = 0;     ///< Standard uncertainty of the share.
  double gain_apart = 0;  ///< How much further out the rendering's edges lie than the photo's.
  double light_blur_px = 0;  ///< Of the lens alone, before coding and smoothing.
  separate::Tone tone;       ///< The camera's coding of this foil on this ground.
  bool empty() const { return sharper.empty(); }
};

/// One rendering, of the blur that the photo's seems to be, does while the fits still move.
enum class Blurs { kOne, kTwo };

/// Renders `lettering` with every found element at its fit, gain included, and finds the blur at
/// which its edges are as steep as the photo's. `labels` are those that `coverage` was learned
/// from. Empty where no edge tells the blur.
RenderedReference RenderReference(const separate::Coverage& coverage, const Labels& labels,
                                  const Placement& map_from_stamp,
                                  const outline::Lettering& lettering,
                                  const std::vector<ElementFit>& elements, Blurs blurs);

/// What the rendering shows along the edges of an outline that was drawn moved as `drawn_at`;
/// searched within `window` cap heights, with ElementOptions::own_level at half of what is drawn.
/// Empty where `rendered` is.
ReferenceReading ReadReference(const RenderedReference& rendered, const SampledOutline& outline,
                               const ElementVector& drawn_at, const ElementOptions& options);

}  // namespace debossier::fit
