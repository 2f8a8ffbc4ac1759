// Where the lettering may lie in a photo: candidates from connected parts of its contrast maps.
//
// Frame: photo pixels from stamp (cap heights, y up).
// Not for: a placement to measure with; RefinePlacement starts from these.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "fit/placement.h"
#include "fit/placement_search.h"
#include "outline/lettering.h"
#include "reading/components.h"

namespace debossier::fit {

struct RoughPlacement {
  Placement photo_from_stamp;
  double matched = 0;
};

struct RoughSearch {
  std::vector<RoughPlacement> placements;  ///< Best first.
  bool exhausted = false;                  ///< All maps were gone through.
  RoughPlacement too_small;
  double too_small_px = 0;  ///< Cap height of the best agreement below the least size; 0: none.
  std::vector<reading::Component> components;  ///< Of the last map that was gone through,
  std::vector<ReferencePart> parts;            ///< what they were matched with,
  double map_scale = 1;                        ///< and photo pixels per pixel of it.
};

/// How much a search spends.
enum class Effort {
  kReduced,    ///< One map of a copy reduced to a few hundred pixels; keeps good agreements only.
  kQuick,      ///< Ends at the first contrast map with a good agreement.
  kExhaustive  ///< Goes through all maps.
};

/// Candidates over windows of the ground and polarities of the foil; those with less than
/// `min_cap_px` photo pixels a cap height only tell that the lettering is too small.
RoughSearch SearchRough(const cv::Mat& bgr, const outline::Lettering& lettering, double min_cap_px,
                        Effort effort);

/// The best candidate among the parts of the last map outside `covered` (photo pixels), of
/// `min_cap_px` and more; nothing where none has three fifths of
/// the parts.
std::optional<RoughPlacement> SearchBeside(const RoughSearch& search, const cv::Rect& covered,
                                           const outline::Lettering& lettering, double min_cap_px);

}  // namespace debossier::fit
