// Everything measured on one photo of a lettering, each value with its standard uncertainty.
//
// Frame: stamp (cap heights of the wordmark as measured on this photo, y up, origin at the left end
// of the wordmark's baseline), stroke gain taken out, unless a name ends in _px.
// u is a standard uncertainty (k = 1).
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "base/quantity.h"
#include "base/result.h"
#include "fit/placement.h"
#include "measure/pose.h"
#include "outline/lettering.h"
#include "outline/line_case.h"

namespace debossier::measure {

using outline::Box;
using outline::Point;

enum class LetterCase { kCapital, kSmall, kNone, kCannotTell };  ///< kNone: figures and signs.
using outline::LineCase;

const char* Name(LetterCase letter_case);  ///< "capital", "small", "none", "cannot-tell"
const char* Name(LineCase line_case);      ///< "capitals", "title", "small", "small-capitals"...

/// Distance between the element's edge in the photo and the reference outline, after position,
/// size and stroke gain are taken out. In cap heights of the wordmark.
struct ShapeDistance {
  double rms = 0;         ///< Root mean square along the outline.
  double p95 = 0;         ///< 95th percentile of the absolute distance.
  double smooth_rms = 0;  ///< The same of the distance averaged over a short length of outline.
  double u = 0;           ///< Standard uncertainty of smooth_rms from raggedness of the edge.
  double missing = 0;     ///< Share of the reference's area without foil.
  double extra = 0;       ///< Foil beyond the reference, as a share of its area.
  double signed_missing_rms = 0;  ///< RMS of the inward distances only.
  double signed_extra_rms = 0;    ///< RMS of the outward distances only.
};

struct ElementMeasurement {
  std::string id;
  int line_idx = 0;
  bool is_mark = false;
  std::string character;  ///< As the reference or the text has it.
  bool found = false;
  bool in_place = false;  ///< Not measured, but its usual place shows it.
  bool read = false;  ///< Not measured: the line is set in another case, and `outline` is a general
                      ///< letter where `found_as` was read.
  bool cut = false;   ///< Not measured: it lies outside the photo or crop, wholly or in part.
  Pose pose;          ///< Where found.
  std::string found_as;  ///< Character read, where it is another (e.g. the other case).
  LetterCase letter_case = LetterCase::kCannotTell;
  Box box;                ///< Extreme edges, gain taken out.
  Point u_centre{0, 0};   ///< Of the box's centre.
  Point u_size{0, 0};     ///< Of the box's width and height.
  Point offset{0, 0};     ///< Centre minus the reference's centre.
  Measured height_ratio;  ///< Height over the wordmark's cap height.
  Measured width;
  Measured relative_height;  ///< Height over the reference's height.
  Measured relative_width;
  Measured stroke;       ///< Mean stroke weight, gain taken out.
  Measured slant_deg;    ///< Of the letter's own shear against the reference, degrees.
  Measured base_offset;  ///< Lower edge over the reference's lower edge, y up.
  ShapeDistance shape;
  std::array<Point, 4>
      quad_px;  ///< Box corners in photo pixels: lower left, lower right, upper right, upper left.
  outline::Outline
      outline;  ///< Reference outline moved to where the element was found (stamp frame, no gain).
  std::vector<outline::Polyline>
      foil_edge_px;  ///< Half-height contour of the foil near the element, photo pixels.
};

struct GapMeasurement {
  std::string left;  ///< Element ids.
  std::string right;
  Measured value;    ///< Left edge of the right one minus right edge of the left one.
  Measured kerning;  ///< Distance of their centres less the reference's.
};

struct LineMeasurement {
  std::string id;
  std::string text;
  LineCase line_case = LineCase::kCannotTell;
  Measured cap_height;  ///< 0 with u = 0 where the line has no capitals.
  Measured x_height;
  Measured height_ratio;   ///< Height of this line over the wordmark's, both as measured.
  Measured relative_size;  ///< height_ratio over the reference's.
  Measured offset_x;       ///< Line's centre against the reference's, relative to the wordmark.
  Measured offset_y;
  Measured tracking;  ///< Mean extra space per letter, cap heights of the line.
};

struct MarkMeasurement {
  std::string kind;  ///< "®", "©", "™": the reference's.
  bool found = false;
  Measured gap;              ///< Mark's left edge minus the last letter's right edge.
  Measured size;             ///< Height.
  Measured rise;             ///< Lower edge over the wordmark's baseline.
  bool ground_seen = false;  ///< Not found, and ground is seen in its place and all about it.
  std::string seen = {};     ///< "®" or "©", by the inside; empty where it cannot be told.
};

struct FrameMeasurement {
  outline::FrameKind kind = outline::FrameKind::kNone;  ///< What the photo shows.
  bool decided = false;  ///< False: cannot tell whether there is one.
  Measured half_width;
  Measured half_height;
  Measured line_weight;
  Measured clearance;    ///< Smallest distance from the rule to the lettering inside.
  double seen = 0;       ///< Share of the rule's length on which foil was found.
  outline::Frame found;  ///< Where the photo has it, in the reference's own cap heights.
};

/// Foil that stands out less than this (`Quality::contrast`) shows its edges by the shading of the
/// impression's walls rather than by its own end: numbers look sharper than they are.
inline constexpr double kLeastContrast = 2.5;

struct Quality {
  double cap_height_px = 0;
  double blur_px = 0;  ///< Of the edges as they are read, with the smoothing before (SmoothingFor).
  double tilt_deg = 0;
  double turn_deg = 0;    ///< Of the baseline in the photo, counter-clockwise.
  double coverage = 0;    ///< Share of the lettering's area that carries foil.
  double contrast = 0;    ///< Foil against ground over the noise (after local averaging).
  double anisotropy = 0;  ///< x scale over y scale against the reference, minus 1.
  std::vector<std::string> advice;
};

struct Measurements {
  fit::Placement placement;
  std::vector<ElementMeasurement> elements;  ///< In the reference's order.
  std::vector<GapMeasurement> gaps;
  std::vector<LineMeasurement> lines;
  MarkMeasurement mark;
  FrameMeasurement frame;
  Measured gain;  ///< Outward growth of each edge, cap heights.
  Quality quality;
  std::vector<Warning> warnings;
};

}  // namespace debossier::measure
