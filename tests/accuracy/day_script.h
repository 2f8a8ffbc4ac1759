// What somebody would write in a day from well-known parts, to hold the product against: a
// threshold, one alignment, intersection over union, boxes of components, character recognition.
//
// Otsu's threshold (1979), an affine and then a homography by enhanced correlation coefficients
// (Evangelidis and Psarakis 2008, as in OpenCV's findTransformECC), the Jaccard index (1901), and
// Tesseract on the aligned line. It is given more than the product: the photo cropped to the
// lettering as if by hand, and the set's outlines as its template.
// Frames: photo pixels; stamp (cap heights, y up) through a picture of kPxPerCap pixels a capital.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "outline/lettering.h"

namespace debossier::accuracy {

/// One photo as the script reads it.
struct ScriptReading {
  bool aligned = false;
  double overlap = 0;        ///< Intersection over union with the template; 0: not aligned.
  std::vector<double> gaps;  ///< Of neighbours, in the order of NeighbourGaps(); NaN: unread.
  double worst_gap = 0;      ///< Largest difference of a gap from the template's.
  std::string text;          ///< Of the line that was asked for; empty where nothing is read.
};

/// Two neighbouring letters, or the last of the wordmark and the mark, and their gap.
struct NeighbourGap {
  std::size_t left = 0;  ///< Elements of the lettering.
  std::size_t right = 0;
  double gap = 0;  ///< Cap heights.
};
std::vector<NeighbourGap> NeighbourGaps(const outline::Lettering& lettering);

/// Reads `bgr` (CV_8UC3) within `crop`, against `lettering`. `line_idx`: whose text is read; -1
/// for none.
ScriptReading ReadWithScript(const cv::Mat& bgr, const cv::Rect& crop,
                             const outline::Lettering& lettering, int line_idx);

/// One line of `lettering` as print: black on white, kPxPerCap pixels a capital of the wordmark.
cv::Mat TemplateOfLine(const outline::Lettering& lettering, int line_idx);

/// Text on an upright picture of one line, by the tesseract program; empty where that is not
/// installed or reads nothing.
std::string RecognisedText(const cv::Mat& grey);

}  // namespace debossier::accuracy
