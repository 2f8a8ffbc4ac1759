// Edges below a pixel: where the coverage crosses one half along the normal of a model edge.
//
// Frames: model edges in the stamp frame (cap heights, y up); coverage in map pixels (y down).
// Displacements are along the model's outward normal, in cap heights, positive outward.
// Not for: edges on a binary mask.
#pragma once

#include <Eigen/Core>
#include <opencv2/core.hpp>
#include <vector>

#include "fit/placement.h"
#include "outline/lettering.h"

namespace debossier::fit {

/// A point of the reference's outline.
struct ModelEdge {
  Point point = Point::Zero();
  Point normal = Point::Zero();
  double length = 0;    ///< Outline length it stands for.
  int contour_idx = 0;  ///< Within its element.
};

/// Samples one element's outline every `step` cap heights.
std::vector<ModelEdge> ModelEdges(const outline::Outline& outline, double step);

/// What was found along one normal.
struct EdgeReading {
  enum class Kind : unsigned char {
    kEdge,        ///< A crossing from foil to ground.
    kMissing,     ///< No foil on the inner side within the window.
    kExtra,       ///< No ground on the outer side within the window.
    kOutside,     ///< The window leaves the picture.
    kUnreadable,  ///< The reference itself would show no edge here, at this size and blur.
  };
  Kind kind = Kind::kOutside;
  double displacement = 0;  ///< Cap heights; limited to the window for kMissing and kExtra.
};

/// Reads edges of one coverage map under one placement.
class EdgeReader {
 public:
  /// @pre `alpha` is CV_32F. `map_from_stamp` maps to its pixels. An edge lies at `level`.
  EdgeReader(const cv::Mat& alpha, const Placement& map_from_stamp, float level = 0.5f);

  /// Looks up to `window` cap heights to either side of `point` moved outward by `gain`.
  /// Of several crossings the one nearest to the model is taken.
  EdgeReading Read(const Point& point, const Point& normal, double gain, double window) const;

  /// The most coverage up to `depth` cap heights within `point`, as Read() looks at it; 0 outside
  /// the picture.
  double FoilWithin(const Point& point, const Point& normal, double gain, double depth) const;

  /// Coverage at a stamp point, bilinear; `outside` beyond the picture.
  double CoverageAt(const Point& stamp, double outside) const;

  const Placement& placement() const { return placement_; }
  const cv::Mat& alpha() const { return alpha_; }

 private:
  const cv::Mat& alpha_;
  Placement placement_;
  float level_;
};

}  // namespace debossier::fit
