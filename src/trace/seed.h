// The first outlines of a lettering, read and traced from one picture.
//
// Which photo of several to start from, and the reading of their mean once they are registered.
// Frame: stamp, as in consensus.h. Not for: outlines that a set keeps; consensus.h makes those.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "fit/placement.h"
#include "outline/lettering.h"
#include "reading/read_text.h"
#include "trace/sharpen.h"

namespace debossier::trace {

/// A photo by reference, with the name used in messages.
struct NamedPhoto {
  std::string name;
  cv::Mat bgr;
};

/// Reads the text of one photo and traces its elements as they stand: the seed, and the lettering
/// that measuring without a set starts from. Frame: stamp.
struct Seed {
  outline::Lettering lettering;
  fit::Placement photo_from_stamp;
  double cost = 0;
  std::vector<outline::Element> untraced;  ///< Read, but without an outline: foil like its ground.
};
Result<Seed> SeedFromPhoto(const cv::Mat& bgr, const reading::TextSpec& text);

/// Fills cap height, x-height and baseline of every line from the outlines, and moves and scales
/// the whole so that the wordmark's baseline lies at y = 0, from x = 0, with cap height 1. Returns
/// the map new-from-old.
outline::Affine Normalise(outline::Lettering& lettering);

/// The photo that reads best, and as most others do; `idx` is its place. Refuses where none can be
/// read, with the first one's name.
Result<Seed> BestSeed(const std::vector<NamedPhoto>& photos, const reading::TextSpec& text,
                      std::size_t* idx);

/// Reads the text again from the photos' mean (CV_32F coverage), in which hairlines and gaps show
/// that a single photo hides; empty where it reads the letters that `seed` has, or no better.
/// `photo_from_stamp` of the result leads to pixels of the mean.
std::optional<Seed> ReadAgain(const cv::Mat& mean, const reading::TextSpec& text, const Seed& seed);

/// Outlines of one element from a field of coverage that holds only it, mapped by `to` into the
/// stamp frame; contours below `min_area` (cap heights squared) are dropped.
outline::Outline TraceElement(const cv::Mat& field, const outline::Affine& to, double min_area,
                              double tolerance, const SharpenOptions* sharpen = nullptr);

}  // namespace debossier::trace
