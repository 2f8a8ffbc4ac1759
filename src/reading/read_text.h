// Reads a stamp whose text is known but whose outlines are not: which pixels are which letter.
//
// Used to seed a reference set from photos and to measure without a set. The lettering is assumed
// upright within 20 degrees (or turned by a known right angle beforehand).
// Frame: pixels of the contrast map, y down.
// Not for: finding known lettering (placement search) or reading unknown text (there is no OCR
// here).
#pragma once

#include <Eigen/Core>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "base/result.h"
#include "outline/lettering.h"
#include "separate/contrast.h"

namespace debossier::reading {

/// The text to look for.
struct TextSpec {
  struct Line {
    std::string id;
    std::string text;
  };
  std::vector<Line> lines;  ///< From top to bottom; the first is the wordmark.
  std::string mark;         ///< "®", "©", "™" after the wordmark; empty: none.
  outline::FrameKind frame = outline::FrameKind::kNone;
  int frame_line_idx = -1;  ///< The line the frame encloses; -1: all.
};

struct ReadElement {
  std::string id;
  int line_idx = 0;
  bool is_mark = false;
  std::string character;
  cv::Rect2d box;  ///< In the upright (deskewed) frame, pixels.
};

struct Reading {
  double skew_rad = 0;           ///< Turn of the baseline, counter-clockwise as seen.
  cv::Matx23d upright_from_map;  ///< Rotation that levels the baseline.
  std::vector<ReadElement> elements;
  std::vector<double> baseline_px;  ///< Per line, y in the upright frame.
  std::vector<double> height_px;    ///< Per line: height of its capitals (or ascenders).
  cv::Mat element_of;  ///< CV_16S, upright frame: element index + 1, 0 ground, -1 frame.
  cv::Rect frame_box;  ///< Upright frame; empty without a frame.
  double cost = 0;     ///< Mean cost a character; below about 4 is plausible.
};

/// Finds the lines of `spec` in a contrast map. Refuses with kNoStamp (nothing like lettering) or
/// kLetteringNotFound (the text does not fit what is there).
Result<Reading> ReadText(const separate::ContrastMap& map, const TextSpec& spec);

}  // namespace debossier::reading
