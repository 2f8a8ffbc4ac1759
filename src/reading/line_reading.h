// Holds a line of known text, in one case or another, against the line's surroundings: general
// faces are moved, sized and spaced until they agree best.
//
// The strings' letters are correlated with the coverage; a dynamic program along the line places
// them, with one tracking and a little play each. How much one reading is better than another is
// half the logarithm of what each leaves unexplained. Worked out on simulated lines in faces other
// than the general ones. Frame: pixels of the band, upright, y down. Not for: unknown text.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "outline/line_case.h"
#include "typeset/general_faces.h"

namespace debossier::reading {

/// The surroundings of a line, drawn upright.
struct LineBand {
  cv::Mat coverage;        ///< CV_32F, 0 ground to 1 foil.
  double px_per_cap = 40;  ///< Of the line's expected cap height.
  double baseline = 0;     ///< Row of the expected baseline.
  double blur_px = 0;      ///< Of the photo's edges, in the band's pixels.
  /// The reference's own letters, which are tried beside the general faces; may be empty.
  typeset::GeneralFace own;
};

/// How `text` fits best.
struct StringFit {
  std::string text;
  int face = 0;
  double size = 1;  ///< Of its cap height against the expected one.
  double widen = 1;
  double baseline = 0;  ///< Row.
  double tracking = 0;  ///< In its cap heights.
  double correlation = 0;
  /// The smallest correlation of a word within its own surroundings. Words of one or two letters,
  /// which wear may take away, count only where there are no others.
  double least_word = 1;
  std::vector<double> pen;  ///< Column of each character's pen; spaces too.
};

/// The general faces, then the reference's own letters where there are any.
std::vector<const typeset::GeneralFace*> FacesFor(const LineBand& band);

/// The best fit of each text, in the order given. Empty texts and letters that the faces lack take
/// no part.
std::vector<StringFit> FitStrings(const LineBand& band, const std::vector<std::string>& texts);

struct CaseReading {
  outline::LineCase line_case = outline::LineCase::kCannotTell;
  double margin = 0;    ///< By how much the answer is better than the next best.
  double body = 0;      ///< Of the capitals against the better of the others.
  double initials = 0;  ///< Of capital initials against small ones; 0 where not asked.
  StringFit fit;        ///< Of the text in the case that was read, or of the best one.
};

/// Reads the case of `text`, whatever case it is given in. kCannotTell where no case stands out
/// or the line does not show this text, and for texts of more than 80 characters.
CaseReading ReadCase(const LineBand& band, const std::string& text);

}  // namespace debossier::reading
