// One glyph as a UFO keeps it: GLIF format 1 and 2 in, format 2 out.
//
// Frame: font units, y up.
// Not for: components, anchors, guidelines, images and the glyph's own library; see ufo.h.
#pragma once

#include <optional>
#include <pugixml.hpp>
#include <string>
#include <vector>

#include "base/result.h"
#include "outline/ufo.h"

namespace debossier::outline {

enum class GlifPointType { kOffCurve, kLine, kCurve, kQCurve };

struct GlifPoint {
  GlifPointType type = GlifPointType::kOffCurve;
  Point at = Point::Zero();
};

/// The closed contour of a cyclic list of points, which may begin off the curve. Quadratic curves
/// are raised to cubics; a list of off-curve points alone is quadratic with its on-curve points
/// implied halfway. Nothing where off-curve points lead to a line or more than two to a cubic.
/// @pre at least two points.
std::optional<Contour> FromGlifPoints(const std::vector<GlifPoint>& points);

/// Reads a parsed .glif. `where` names the file in refusals. `max_points` limits the points of the
/// glyph. Contours of a single point draw nothing and are left out.
Result<UfoGlyph> ReadGlif(const pugi::xml_document& document, const std::string& where,
                          int max_points);

/// The bytes of a .glif. @pre coordinates are finite and within +-1e6.
std::string GlifText(const UfoGlyph& glyph);

/// A number with at most three decimals, without trailing zeros or a negative zero.
std::string NumberText(double number);

}  // namespace debossier::outline
