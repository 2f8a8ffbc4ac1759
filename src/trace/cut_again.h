// Letters that were cut in the wrong places, cut again where general faces have them.
//
// Cuts through touching or broken letters go by widths; where a traced letter is none, the whole
// line is read as its text in the general faces, and the boxes of their letters, at the places and
// in the size that agree best, say which foil belongs to which letter. Frame: stamp.
// Not for: outlines; what is returned only parts the foil, the mean is traced again under it.
#pragma once

#include <opencv2/core.hpp>
#include <set>
#include <string>

#include "fit/placement.h"
#include "outline/lettering.h"

namespace debossier::trace {

/// Puts the boxes of a general face's letters in the place of the letters of every line with a
/// doubtful one and names these lines; none where the line does not fit its text, or where foil is
/// left over beside the letters, as of a letter that the text lacks. `coverage` (CV_32F, foil 1),
/// whose pixels `map` leads to.
std::set<int> PutBoxesToCutBy(const cv::Mat& coverage, const fit::Placement& map,
                              outline::Lettering& lettering);

/// What stands beside a line and is as high as its letters: a letter that the text lacks. In words,
/// or empty. `coverage` and `map` as above.
std::string LetterBeside(const cv::Mat& coverage, const fit::Placement& map,
                         const outline::Lettering& lettering);

/// Those of `lines` whose letters `after` has clearly better: most letters that gained are like
/// themselves now (worn ones may not be), and none is spoilt. A cut that the text itself made has
/// to prove it.
std::set<int> BetterCut(const outline::Lettering& before, const outline::Lettering& after,
                        const std::set<int>& lines);

}  // namespace debossier::trace
