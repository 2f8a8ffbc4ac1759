// Millimetres per cap height at the stamp: from the scale card, from the corners of a known
// rectangle, or from two points of known distance.
//
// A plane in the photo (card or rectangle) turns photo points into millimetres; the stamp's own
// placement turns cap heights into photo points. The ratio, taken at the lettering's middle, is the
// scale, with an uncertainty after the GUM (JCGM 100) whose terms are kept by name.
// Frames: stamp (cap heights), photo (pixels), card or rectangle (mm).
// Not for: stamps that do not lie in the plane of the card. Height above the leather cannot be seen
// in one photo: it is a term of the uncertainty and a stated limit.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "base/quantity.h"
#include "base/result.h"
#include "card/find_card.h"
#include "fit/placement.h"

namespace debossier::card {

/// How the scale is found. At most one of `card`, `points` and `corners` is given.
struct ScaleOptions {
  bool card = false;                    ///< Look for the scale card.
  std::optional<double> card_check_mm;  ///< The printed check length as measured; 50 to 150.
  std::vector<double> points;           ///< x1, y1, x2, y2 in photo pixels.
  double points_mm = 0;                 ///< Their distance; 0.1 to 2000.
  std::vector<double> corners;          ///< x1, y1 ... x4, y4, round, a long side first.
  double rectangle_width_mm = 85.60;    ///< The long side: ID-1 card, ISO/IEC 7810.
  double rectangle_height_mm = 53.98;
  double pick_px = 1.5;  ///< Standard uncertainty of each coordinate picked by hand; 0.05 to 100.

  bool IsWanted() const { return card || !points.empty() || !corners.empty(); }
  /// Refuses with kUsage what cannot be meant, whatever the photo.
  Result<std::monostate> Check() const;
  /// Refuses with kUsage points that do not lie in a photo of this size.
  Result<std::monostate> CheckWithin(const cv::Size& photo) const;
  /// The options as used, by their names on the command line; empty where no scale is wanted.
  std::vector<std::pair<std::string, std::string>> Echo() const;
};

enum class ScaleMethod { kNone, kCard, kRectangle, kTwoPoints };
const char* Name(ScaleMethod method);  ///< "none", "card", "rectangle", "two-points"

/// One source of uncertainty: relative standard uncertainty of a length.
struct ScaleTerm {
  std::string name;  ///< Stable: "marks", "print", "picking", "plane", "lens", "shape", "edges".
  double u = 0;
};

struct Scale {
  ScaleMethod method = ScaleMethod::kNone;
  Measured mm_per_cap_height;  ///< Mean of both directions where the stamp's shape is known.
  double along_mm = 0;         ///< One cap height along the baseline.
  double across_mm = 0;        ///< One cap height at right angles to it.
  double px_per_mm = 0;        ///< In the photo, at the stamp.
  std::vector<ScaleTerm> terms;
  int marks_seen = 0;  ///< Of the card; as the next three, 0 without one.
  int marks_total = 0;
  int card_version = 0;
  double residual_mm = 0;           ///< Root mean square of the marks' distances from one plane.
  std::vector<Warning> warnings;    ///< What this photo shows to be wrong.
  std::vector<std::string> limits;  ///< What no photo shows; a reader must know it.

  bool is_known() const { return method != ScaleMethod::kNone; }
};

/// Whether the reference knows the ratio of the stamp's width to its height, or the outlines come
/// from this very photo, tilt included.
enum class StampShape { kKnown, kFromThisPhoto };

/// The stamp in the photo.
struct StampPlace {
  const fit::Placement& placement;
  outline::Box lettering;  ///< Its bounds, stamp frame.
  StampShape shape = StampShape::kKnown;
};

/// The photo as a camera took it.
struct CameraFacts {
  cv::Size size;
  std::optional<double> focal_length_35mm;  ///< EXIF; without it, that of a usual phone.
};

/// The scale at the stamp from a plane in millimetres. `lift_mm` is the standard uncertainty of
/// the plane's height above the leather; `reference_px` the middle of what the plane was fitted to.
/// Fills method, value, directions, px_per_mm, terms "plane", "lens", "shape", "edges", and warns
/// where the two planes disagree.
Scale ScaleAtStamp(const Eigen::Matrix3d& photo_from_plane, const StampPlace& stamp,
                   const CameraFacts& camera, const Point& reference_px, double lift_mm,
                   ScaleMethod method);

/// Finds the scale as `options` ask. A card that is not found gives kNone with a warning.
/// @pre options.Check() and options.CheckWithin() hold.
Scale FindScale(const cv::Mat& bgr, const std::optional<double>& focal_length_35mm,
                const StampPlace& stamp, const ScaleOptions& options);

/// "0.21 mm": a length in cap heights in millimetres, with as many figures as it bears.
std::string InMillimetres(double cap_heights, const Scale& scale);

}  // namespace debossier::card
