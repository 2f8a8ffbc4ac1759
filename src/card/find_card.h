// The scale card in a photo: its plane in millimetres, and how well the card was seen.
//
// Frames: card (mm, y down; see design.h), photo (pixels, y down).
// Not for: the scale at the stamp, which may lie in another plane; see scale.h.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "card/design.h"
#include "card/plane_fit.h"

namespace debossier::card {

struct FiducialSeen {
  int fiducial_idx = 0;  ///< Into Fiducials().
  Point photo;
  double u_px = 0;
  Point residual_mm;  ///< As seen less as printed, in the card's plane.
};

struct CardSeen {
  PlaneFit plane;  ///< Photo from card.
  std::vector<FiducialSeen> fiducials;
  double largest_residual_mm = 0;
  /// Half of the residuals that a card lying flat never reaches: bent, wrinkled, or a lens that
  /// bends lines.
  bool is_bent = false;
  std::vector<Warning> warnings;
};

/// What a search came to.
struct CardSearch {
  std::optional<CardSeen> card;
  int marks_read = 0;   ///< Marks of the card that read at all.
  std::string why_not;  ///< One sentence where there is no card.
};

/// Finds the card. At least four marks must show, no three of them on one line; fewer is as if
/// there were no card. Where two cards lie in the photo, the one that shows more marks is taken.
CardSearch FindCard(const cv::Mat& bgr);

}  // namespace debossier::card
