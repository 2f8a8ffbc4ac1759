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
#include "outline/lettering.h"
#include "reading/read_text.h"
#include "trace/retrace.h"
#include "trace/seed.h"

namespace debossier::trace {

struct ConsensusOptions {
  fit::PlaceOptions place;
  int rounds = 3;  ///< Registrations of all photos.
  RetraceOptions retrace;
};

struct Consensus {
  outline::Lettering lettering;
  std::vector<fit::PlaceReport> items;  ///< One per photo, in the order given.
  cv::Mat mean;                         ///< CV_32F mean coverage in the stamp grid.
  Eigen::Matrix3d grid_from_stamp = Eigen::Matrix3d::Identity();
  std::string beside;  ///< A letter that the text lacks, in words; see LetterBeside().
  std::vector<Warning> warnings;
};

/// Builds the outlines from `photos` alone. Refuses with kLetteringNotFound, kNoStamp,
/// kPhotoTooSmall or kItemsDoNotAgree; `where` names the photo.
Result<Consensus> BuildConsensus(const std::vector<NamedPhoto>& photos,
                                 const reading::TextSpec& text,
                                 const ConsensusOptions& options = {});

}  // namespace debossier::trace
