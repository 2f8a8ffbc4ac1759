// UFO 3 folders in and out (unifiedfontobject.org, version 3): one outline a glyph.
//
// Frame: font units in the files, y up; `units_per_em` = 1000 and cap height 700 in what we write.
// Not for: components, anchors, guidelines, images, features and kerning; they are ignored on
// reading, except components, which are refused because the outline would be incomplete.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "base/result.h"
#include "outline/outline.h"

namespace debossier::outline {

struct UfoGlyph {
  std::string name;                 ///< Glyph name, unique in the font.
  std::vector<char32_t> unicodes;   ///< Code points; may be empty.
  double advance = 0;               ///< Advance width, font units.
  Outline outline;                  ///< Font units.
};

struct UfoFont {
  std::string family_name;
  std::string note;                 ///< fontinfo `note`: provenance in words.
  double units_per_em = 1000;
  double cap_height = 700;
  double x_height = 500;
  double ascender = 750;
  double descender = -250;
  std::vector<UfoGlyph> glyphs;     ///< In glyphOrder.
};

struct UfoLimits {
  std::size_t max_file_bytes = 8u << 20;
  int max_glyphs = 2000;
  int max_points_per_glyph = 20000;
};

/// Loads a UFO 3 folder. Line and curve (cubic) points, and qcurve points, which are raised to
/// cubics. Refuses with kSetUnreadable: missing files, DOCTYPE or entities, names that leave the
/// folder, open contours, numbers that are not finite or beyond +-1e6, too many points.
Result<UfoFont> LoadUfo(const std::filesystem::path& folder, const UfoLimits& limits = {});

/// Writes a UFO 3 folder whole (beside, then renamed). Refuses with kOutputExists where `folder`
/// exists. The same font gives the same bytes.
Result<std::monostate> WriteUfo(const UfoFont& font, const std::filesystem::path& folder);

/// The file name of a glyph by the UFO convention (user name to file name).
std::string GlifFileName(const std::string& glyph_name);

}  // namespace debossier::outline
