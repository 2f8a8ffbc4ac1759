// From a photo and a reference lettering to its placement, a coverage map and a fit per element.
//
// Contrast map, candidates from components, guided coverage learned from the placed outlines, fit
// of the whole, coverage learned again, fit again, each element by itself, and the whole once more
// from the elements with a Student weight each, so that a moved letter does not drag the others.
// Frames: stamp (cap heights, y up), map pixels of the coverage (y down), photo pixels (y down).
// Not for: judging; measure and compare do that.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "base/result.h"
#include "fit/fit_element.h"
#include "fit/fit_whole.h"
#include "fit/render_reference.h"
#include "outline/lettering.h"
#include "separate/coverage.h"

namespace debossier::fit {

struct PlaceOptions {
  bool free_aspect = false;         ///< x and y scale cannot be trusted (squeezed scans).
  double min_cap_height_px = 14;    ///< Refuse below this many photo pixels a cap height.
  double max_map_px_per_cap = 150;  ///< Larger photos are reduced to this for the fit.
  double min_edges_found = 0.5;     ///< Refuse where less of the outline finds an edge.
  double min_letters_well = 0.5;    ///< Refuse where fewer letters of every line sit well.
  cv::Rect crop;  ///< Look and measure only here (photo pixels); empty: the whole photo.
  WholeOptions whole;
  ElementOptions element;
};

struct PlaceReport {
  Placement photo_from_stamp;
  Placement map_from_stamp;  ///< The same in the coverage map's pixels.
  separate::Coverage coverage;
  cv::Mat cut;                       ///< CV_8UC3, the cut-out that the coverage was read from.
  std::vector<ElementFit> elements;  ///< One per element of the lettering.
  RenderedReference rendered;        ///< The reference in the coverage's place; may be empty.
  WholeReport whole;
  double explained = 0;  ///< Share of the foil about the place that the lettering explains.
  std::vector<Placement> others;   ///< Where else in the photo the lettering stands.
  std::vector<Placement> untried;  ///< Candidates that lead elsewhere and were not refined.
  bool free_aspect = false;        ///< As PlaceOptions had it.
  double matched = 0;              ///< Share of the reference's parts the search matched.
  std::vector<Warning> warnings;
};

/// Rectangle of photo pixels about the placed lettering, with `margin` cap heights around.
cv::Rect PlacedRect(const Placement& placement, const outline::Lettering& lettering, double margin);

/// Places `lettering` in `bgr` (CV_8UC3). Refuses with kNoStamp, kLetteringNotFound or
/// kPhotoTooSmall.
Result<PlaceReport> PlaceLettering(const cv::Mat& bgr, const outline::Lettering& lettering,
                                   const PlaceOptions& options = {});

/// The place that the best untried candidate of `placed` leads to, where it explains more; nothing
/// otherwise. `options`: those that `placed` came from.
std::optional<PlaceReport> BetterPlace(const cv::Mat& bgr, const outline::Lettering& lettering,
                                       const PlaceOptions& options, const PlaceReport& placed);

/// From the frame of a picture's part that begins at `offset` into that of the picture.
void MoveBy(const cv::Point& offset, PlaceReport& report);

}  // namespace debossier::fit
