// Many photos of one lettering to one set of outlines.
//
// The photo that reads best seeds the outlines; all photos are registered to them, their coverage
// is averaged in the stamp frame so that wear and grain fade, the mean is traced below a pixel, and
// the photos are registered to the new outlines again (iterative averaging to a learned mean, as in
// Joshi et al. 2004, "Unbiased diffeomorphic atlas construction", with homographies).
// Frame of the result: stamp (cap heights of the wordmark, y up, origin at the left end of its
// baseline); the mean of the photos' perspective, shear and aspect is taken as upright.
// Not for: photos of different letterings; they are refused by name.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "base/result.h"
#include "fit/place_lettering.h"
#include "layout/read_text.h"
#include "outline/lettering.h"
#include "trace/sharpen.h"

namespace debossier::trace {

struct ConsensusOptions {
  fit::PlaceOptions place;
  int rounds = 3;                ///< Registrations of all photos.
  double grid_px_per_cap = 140;  ///< Resolution of the averaged coverage.
  double smoothing = 0.006;  ///< Standard deviation, cap heights, of the smoothing before tracing.
  SharpenOptions sharpen;
  double most_noise = 0.1;        ///< Noise of the mean coverage above which blur is left in.
  double min_part_area = 0.0016;  ///< Smaller specks are dropped, cap heights squared.
};

struct Consensus {
  outline::Lettering lettering;
  std::vector<fit::PlaceReport> items;  ///< One per photo, in the order given.
  cv::Mat mean;                         ///< CV_32F mean coverage in the stamp grid.
  Eigen::Matrix3d grid_from_stamp = Eigen::Matrix3d::Identity();
  std::vector<Warning> warnings;
};

/// A photo by reference, with the name used in messages.
struct NamedPhoto {
  std::string name;
  cv::Mat bgr;
};

/// Builds the outlines from `photos` alone. Refuses with kLetteringNotFound, kNoStamp,
/// kPhotoTooSmall or kItemsDoNotAgree; `where` names the photo.
Result<Consensus> BuildConsensus(const std::vector<NamedPhoto>& photos,
                                 const layout::TextSpec& text,
                                 const ConsensusOptions& options = {});

/// Reads the text of one photo and traces its elements as they stand: the seed, and the lettering
/// that measuring without a set starts from. Frame: stamp.
struct Seed {
  outline::Lettering lettering;
  fit::Placement photo_from_stamp;
  double cost = 0;
  std::vector<outline::Element> untraced;  ///< Read, but without an outline: foil like its ground.
};
Result<Seed> SeedFromPhoto(const cv::Mat& bgr, const layout::TextSpec& text);

/// Fills cap height, x-height and baseline of every line from the outlines, and moves and scales
/// the whole so that the wordmark's baseline lies at y = 0, from x = 0, with cap height 1. Returns
/// the map new-from-old.
outline::Affine Normalise(outline::Lettering& lettering);

}  // namespace debossier::trace
