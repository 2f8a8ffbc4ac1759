// A general face's letter as pixels, to be held against a photo.
//
// Frame: pixels, y down. Not for: known lettering; fit draws that.
#pragma once

#include <map>
#include <opencv2/core.hpp>
#include <string>
#include <tuple>

#include "typeset/general_faces.h"

namespace debossier::reading {

/// How a face is drawn; lengths in cap heights of the face.
struct Drawn {
  double px_per_cap = 10;
  double widen = 1;    ///< Of letters and advances.
  double gain = 0;     ///< Outward growth of every edge.
  double bolder = 0;   ///< And of upright edges beyond that: stems against hairlines.
  double blur_px = 0;  ///< Standard deviation.
};

struct LetterTemplate {
  cv::Mat coverage;  ///< CV_32F, 0..1; empty where nothing is drawn.
  cv::Point origin;  ///< Pixel of the pen on the baseline within `coverage`; may lie outside.
  double left = 0;   ///< Ink edges against the pen, px.
  double right = 0;
  double advance = 0;  ///< px.
  double sum = 0;      ///< Of the coverage, and of its squares.
  double squares = 0;
};

/// Draws letters of one face and keeps them.
class LetterTemplates {
 public:
  explicit LetterTemplates(const typeset::GeneralFace& face) : face_(face) {}

  /// Null where the face has no such letter.
  const LetterTemplate* Get(const std::string& character, const Drawn& drawn);

 private:
  using Key = std::tuple<std::string, double, double, double, double, double>;
  const typeset::GeneralFace& face_;
  std::map<Key, LetterTemplate> made_;
};

}  // namespace debossier::reading
