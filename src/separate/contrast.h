// Stamp against leather without knowing the lettering: a signed contrast map and its mask.
//
// Each pixel's colour is compared with the local ground (a wide median), in units of the ground's
// own noise; the direction in colour space that carries the foil is learned from the strongest
// pixels. Foil that mirrors is bright and dark in one letter, so a map of the unsigned contrast is
// offered beside the signed one. Frame: pixels of the (possibly reduced) picture; `scale` gives
// photo pixels per map pixel. Not for: measuring edges; guided coverage (coverage.h) does that once
// the lettering is placed.
#pragma once

#include <opencv2/core.hpp>

#include "base/result.h"

namespace debossier::separate {

struct ContrastOptions {
  int max_side_px = 1600;       ///< The picture is reduced to this longer side first.
  double ground_window = 0.25;  ///< Window of the ground's median, share of the longer side.
  double smoothing_px = 1.0;    ///< Standard deviation of the smoothing against grain.
};

enum class Polarity { kSigned, kReversed, kUnsigned };

struct ContrastMap {
  cv::Mat contrast;         ///< CV_32F, noise units; foil positive.
  double scale = 1;         ///< Photo pixels per map pixel (>= 1).
  double threshold = 0;     ///< Otsu 1979 on the positive part.
  double separability = 0;  ///< Otsu's between-class over total variance, 0 to 1.
};

/// The ground-relative colour, whitened: CV_32FC3.
struct GroundRelative {
  cv::Mat whitened;
  double scale = 1;
};

/// Subtracts the local ground from `bgr` (CV_8UC3) and whitens by its noise.
GroundRelative SubtractGround(const cv::Mat& bgr, const ContrastOptions& options = {});

/// Projects onto the direction of the strongest pixels (signed either way) or takes the norm.
ContrastMap Contrast(const GroundRelative& relative, Polarity polarity);

/// Otsu's threshold of a CV_32F map over [0, max], and the separability (Otsu 1979, eq. 12).
double OtsuThreshold(const cv::Mat& map, double* separability);

/// Otsu's threshold of a histogram: the last index of the lower class.
int OtsuSplit(const std::vector<double>& histogram, double* between_class_variance);

}  // namespace debossier::separate
