// What a typeset::Font holds: the file's bytes, the FreeType face and the HarfBuzz font on them.
//
// Frame: font units, y up.
// Not for: anything outside this layer.
#pragma once

#include <ft2build.h>
#include <hb.h>

#include <memory>
#include <mutex>
#include <string>

#include FT_FREETYPE_H

#include "outline/outline.h"
#include "typeset/font.h"

namespace debossier::typeset {

struct LibraryDone {
  void operator()(FT_Library library) const { FT_Done_FreeType(library); }
};
struct FaceDone {
  void operator()(FT_Face face) const { FT_Done_Face(face); }
};
struct HbFontDone {
  void operator()(hb_font_t* font) const { hb_font_destroy(font); }
};
struct HbBufferDone {
  void operator()(hb_buffer_t* buffer) const { hb_buffer_destroy(buffer); }
};
using Buffer = std::unique_ptr<hb_buffer_t, HbBufferDone>;

struct Font::Impl {
  std::string where;  ///< The path, for messages.
  std::string bytes;  ///< Outlives the face and the HarfBuzz font, which read it.
  std::unique_ptr<FT_LibraryRec_, LibraryDone> library;
  std::unique_ptr<FT_FaceRec_, FaceDone> face;
  std::unique_ptr<hb_font_t, HbFontDone> shaper;  ///< Scaled to font units.
  std::mutex face_mutex;  ///< FreeType loads glyphs into the face's one slot.
  double units_per_em = 1000;
  double cap_height = 0;  ///< Font units, of the outline of H.
  double x_height = 0;    ///< Font units, of the outline of x.

  /// The glyph's outline in font units, outer contours counter-clockwise.
  Result<outline::Outline> GlyphOutline(unsigned glyph);
  /// Top of the character's outline above the baseline; 0 where the font lacks it.
  double TopOf(char32_t code_point);
};

}  // namespace debossier::typeset
