// Fits one element by itself: position, size, slant and gain relative to the whole, with
// covariance.
//
// Weighted least squares on the element's edge displacements, iterated, Tukey biweight against
// missing and extra foil; the covariance is the sandwich form with a Bartlett kernel along the
// outline (Newey and West 1987), so that ragged or worn letters carry their own larger uncertainty.
// Frame: stamp (cap heights, y up), relative to the whole lettering's placement.
// Not for: an element displaced by more than the window; search for that one first.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "fit/edge.h"
#include "outline/outline.h"

namespace debossier::fit {

/// Unknowns of one element, in this order.
enum ElementUnknown : int { kShiftX, kShiftY, kLogScaleX, kLogScaleY, kSlant, kOwnGain };
inline constexpr int kElementUnknowns = 6;
using ElementVector = Eigen::Matrix<double, kElementUnknowns, 1>;
using ElementMatrix = Eigen::Matrix<double, kElementUnknowns, kElementUnknowns>;

struct ElementOptions {
  double window = 0.09;         ///< Search along the normal, cap heights.
  double scale_sd = 0.15;       ///< Prior of log scales.
  double slant_sd = 0.01;       ///< Prior of the slant (shear of x by y).
  double gain_sd = 0.004;       ///< Prior of the own gain about the whole's, cap heights.
  double correlation = 0.05;    ///< Outline length that shares its error, cap heights.
  double step = 0.02;           ///< Spacing of the edge samples of full-sized letters.
  double map_px_per_cap = 100;  ///< For the floor of the uncertainty.
  double settled_step = 5e-4;   ///< The fit ends at a smaller step, cap heights, and follows it.
  /// Edges lie at half of the element's own foil, where it nowhere covers a whole pixel.
  bool own_level = false;
  bool settled = false;  ///< The start is a fit already: no wide listening at first.
};

/// Length of outline that wears off in one piece, cap heights: an assumption, about a grain of the
/// leather under a stamp of usual size; no source.
inline constexpr double kChipLength = 0.08;

/// What a rendering of the reference shows along the edges of an element.
struct ReferenceReading {
  std::vector<double> displacement;  ///< NaN: no edge can be read here at this size and blur.
  std::vector<double> by_blur;       ///< What one standard uncertainty of the blur adds.
  bool empty() const { return displacement.empty(); }
};

struct ElementFit {
  bool found = false;
  bool in_place = false;  ///< Not found, but the pixels agree with it in its usual place.
  bool cut = false;       ///< Not found: it lies outside the picture, wholly or in part.
  ElementVector value = ElementVector::Zero();
  ElementMatrix covariance = ElementMatrix::Zero();
  /// Covariance where whole stretches of outline of the length of a chip were off by one cap height
  /// (standard deviation), each by itself: how far few stretches carry an unknown.
  ElementMatrix leverage = ElementMatrix::Zero();
  Point centre = Point::Zero();       ///< About which scales and slant act.
  double residual = 0;                ///< Robust standard deviation of the edges, cap heights.
  double edges_found = 0;             ///< Share of the outline with an edge.
  double missing = 0;                 ///< Share of the outline's length without foil.
  double extra = 0;                   ///< Share of the outline's length without ground outside.
  std::vector<ModelEdge> edges;       ///< As sampled.
  ReferenceReading reference;         ///< What readings are relative to; may be empty.
  std::vector<EdgeReading> readings;  ///< After the fit: displacement beyond the fitted element.
};

/// An outline as its fit sees it.
struct SampledOutline {
  SampledOutline(const outline::Outline& outline, double step)
      : SampledOutline(outline, step, outline::Bounds(outline).centre()) {}
  SampledOutline(const outline::Outline& outline, double step, const Point& about)
      : edges(ModelEdges(outline, step)), centre(about) {}
  std::vector<ModelEdge> edges;
  Point centre;
};

/// Moves a point of the reference to where the fit found it (no gain).
Point MovePoint(const ElementFit& fit, const Point& reference);
outline::Affine MoveOf(const ElementFit& fit);

/// Derivative of the moved point's coordinates by the unknowns (2 x 6).
Eigen::Matrix<double, 2, kElementUnknowns> MoveJacobian(const ElementFit& fit,
                                                        const Point& reference);

/// Half of the foil that most of the moved outline has inside, as a level for edges; one half at
/// most.
float OwnLevel(const EdgeReader& reader, const SampledOutline& element, const ElementVector& moved);

/// Fits `element` under the whole's placement. `start` gives a first shift. With `reference`, in
/// step with its edges, readings are what lies beyond it.
ElementFit FitElement(const EdgeReader& reader, const SampledOutline& element,
                      const ElementVector& start, const ElementOptions& options = {},
                      const ReferenceReading& reference = {});

}  // namespace debossier::fit
