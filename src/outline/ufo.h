// UFO 3 folders in and out (unifiedfontobject.org, version 3): one outline a glyph.
//
// Frame: font units in the files, y up; `units_per_em` = 1000 and cap height 700 in what we write.
// A tree of files that is not ours to trust: every limit below holds before memory is spent.
// Not for: components, anchors, guidelines, images, features and kerning; they are ignored on
// reading, except components, which are refused because the outline would be incomplete.
#pragma once

#include <filesystem>
#include <string>
#include <variant>
#include <vector>

#include "base/result.h"
#include "outline/outline.h"

namespace debossier::outline {

struct UfoGlyph {
  std::string name;                ///< Glyph name, unique in the font.
  std::vector<char32_t> unicodes;  ///< Code points; may be empty.
  double advance = 0;              ///< Advance width, font units.
  Outline outline;                 ///< Font units.
};

struct UfoFont {
  std::string family_name;
  std::string note;  ///< fontinfo `note`: provenance in words.
  double units_per_em = 1000;
  double cap_height = 700;
  double x_height = 500;
  double ascender = 750;
  double descender = -250;
  std::vector<UfoGlyph> glyphs;  ///< In glyphOrder.
};

struct UfoLimits {
  std::size_t max_file_bytes = 8u << 20;
  std::size_t max_total_bytes = 32u << 20;
  int max_glyphs = 2000;
  int max_points_per_glyph = 20000;
  int max_total_points = 400000;
};

/// Loads the default layer of a UFO 3 folder. Line and curve (cubic) points, and qcurve points,
/// which are raised to cubics. Directions are kept as drawn. Contours of one point draw nothing and
/// are left out. Refuses with kSetUnreadable: missing files, symbolic links and names that lead out
/// of the folder, a document type (other than the bare one of property lists) or entities, deep
/// nesting, open contours, components, numbers that are not finite or beyond +-1e6, too many points
/// or glyphs; with kOverLimit: files that are too large; with kNewerFormat: UFO 4 or GLIF 3 and up.
Result<UfoFont> LoadUfo(const std::filesystem::path& folder, const UfoLimits& limits = {});

/// Writes a UFO 3 folder whole: beside, then renamed. Integers where integral, else up to three
/// decimals. Refuses with kOutputExists where `folder` exists, kOutputNotWritable where its parent
/// does not or may not be written, and kInternal where names are empty or come twice or numbers are
/// not finite or beyond +-1e6. The same font gives the same bytes.
Result<std::monostate> WriteUfo(const UfoFont& font, const std::filesystem::path& folder);

/// The file name of a glyph by the UFO convention (user name to file name), which tells capitals
/// from small letters where the file system does not. Not yet unique: names that differ only in
/// characters no file name can hold give the same; WriteUfo numbers those.
std::string GlifFileName(const std::string& glyph_name);

}  // namespace debossier::outline
