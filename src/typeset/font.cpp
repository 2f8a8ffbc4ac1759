#include "typeset/font.h"

#include <fmt/format.h>

#include <climits>
#include <utility>

#include "base/files.h"
#include "typeset/fill_side.h"
#include "typeset/font_impl.h"
#include "typeset/glyph_outline.h"

#include FT_TRUETYPE_TABLES_H

namespace debossier::typeset {

namespace {

constexpr std::uint64_t kMaxFontBytes = 64ull << 20;
constexpr int kMaxFaceIdx = 0xFFFF;  ///< Higher bits would select an instance of a variable font.

Unexpected Unreadable(const std::string& where, std::string message) {
  return Refuse(ErrorCode::kSetUnreadable, "typeset", where, std::move(message),
                "give an intact TrueType or OpenType font with outlines");
}

const TT_OS2* Os2Table(FT_Face face) {
  const auto* table = static_cast<const TT_OS2*>(FT_Get_Sfnt_Table(face, FT_SFNT_OS2));
  // Version 2 brought the two heights; FreeType marks an absent table with version 0xFFFF.
  return table != nullptr && table->version >= 2 && table->version != 0xFFFF ? table : nullptr;
}

/// The HarfBuzz font over `bytes`, scaled to `units_per_em`.
std::unique_ptr<hb_font_t, HbFontDone> MakeShaper(const std::string& bytes, int face_idx,
                                                  int units_per_em) {
  hb_blob_t* blob = hb_blob_create(bytes.data(), static_cast<unsigned>(bytes.size()),
                                   HB_MEMORY_MODE_READONLY, nullptr, nullptr);
  hb_face_t* face = hb_face_create(blob, static_cast<unsigned>(face_idx));
  hb_blob_destroy(blob);
  std::unique_ptr<hb_font_t, HbFontDone> font(hb_font_create(face));
  hb_face_destroy(face);
  hb_font_set_scale(font.get(), units_per_em, units_per_em);
  hb_font_make_immutable(font.get());
  return font;
}

}  // namespace

Font::Font(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Font::Font(Font&&) noexcept = default;
Font& Font::operator=(Font&&) noexcept = default;
Font::~Font() = default;

Result<Font> Font::Load(const std::filesystem::path& path, int face_idx) {
  auto bytes = LoadFile(path, kMaxFontBytes, "typeset");
  if (!bytes) return PassOn(bytes);
  auto impl = std::make_unique<Impl>();
  impl->where = path.string();
  impl->bytes = *std::move(bytes);

  FT_Library library = nullptr;
  if (FT_Init_FreeType(&library) != 0) {
    return Refuse(ErrorCode::kInternal, "typeset", impl->where, "FreeType does not start",
                  "free some memory and try again");
  }
  impl->library.reset(library);
  if (face_idx < 0 || face_idx > kMaxFaceIdx) return Unreadable(impl->where, "has no such face");
  FT_Face face = nullptr;
  if (FT_New_Memory_Face(library, reinterpret_cast<const FT_Byte*>(impl->bytes.data()),
                         static_cast<FT_Long>(impl->bytes.size()), face_idx, &face) != 0) {
    return Unreadable(impl->where, "is not a font, is damaged or has no such face");
  }
  impl->face.reset(face);
  if (!FT_IS_SFNT(face) || !FT_IS_SCALABLE(face) || face->units_per_EM == 0) {
    return Unreadable(impl->where, "is not a TrueType or OpenType font with outlines");
  }
  impl->units_per_em = face->units_per_EM;
  impl->shaper = MakeShaper(impl->bytes, face_idx, face->units_per_EM);
  impl->cap_height = impl->TopOf(U'H');
  impl->x_height = impl->TopOf(U'x');
  return Font(std::move(impl));
}

Result<outline::Outline> Font::Impl::GlyphOutline(unsigned glyph) {
  const std::lock_guard lock(face_mutex);
  if (FT_Load_Glyph(face.get(), glyph, FT_LOAD_NO_SCALE | FT_LOAD_NO_HINTING) != 0 ||
      face->glyph->format != FT_GLYPH_FORMAT_OUTLINE) {
    return Unreadable(where, fmt::format("has a damaged glyph, number {}", glyph));
  }
  const auto loaded = FromFreeType(face->glyph->outline);
  if (!loaded) return Unreadable(where, fmt::format("has a damaged outline, glyph {}", glyph));
  return WithFillOnLeft(*loaded);
}

double Font::Impl::TopOf(char32_t code_point) {
  hb_codepoint_t glyph = 0;
  if (!hb_font_get_nominal_glyph(shaper.get(), code_point, &glyph)) return 0;
  const auto shape = GlyphOutline(glyph);
  if (!shape || shape->empty()) return 0;
  return std::max(0.0, Bounds(*shape).max.y());
}

double Font::cap_height() const { return impl_->cap_height / impl_->units_per_em; }
double Font::x_height() const { return impl_->x_height / impl_->units_per_em; }

double Font::os2_cap_height() const {
  const TT_OS2* table = Os2Table(impl_->face.get());
  return table != nullptr ? table->sCapHeight / impl_->units_per_em : 0;
}

double Font::os2_x_height() const {
  const TT_OS2* table = Os2Table(impl_->face.get());
  return table != nullptr ? table->sxHeight / impl_->units_per_em : 0;
}

std::string Font::family_name() const {
  const char* name = impl_->face->family_name;
  return name != nullptr ? name : "";
}

bool Font::Has(char32_t code_point) const {
  hb_codepoint_t glyph = 0;
  return hb_font_get_nominal_glyph(impl_->shaper.get(), code_point, &glyph) && glyph != 0;
}

}  // namespace debossier::typeset
