#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "base/unicode.h"
#include "typeset/font.h"
#include "typeset/font_impl.h"

namespace debossier::typeset {

namespace {

constexpr std::size_t kMaxCharacters = 1000;

/// One glyph per character: an engraver's letters stand alone. Kerning stays on.
constexpr std::array<hb_feature_t, 6> kFeatures{{
    {HB_TAG('k', 'e', 'r', 'n'), 1, 0, static_cast<unsigned>(-1)},
    {HB_TAG('l', 'i', 'g', 'a'), 0, 0, static_cast<unsigned>(-1)},
    {HB_TAG('c', 'l', 'i', 'g'), 0, 0, static_cast<unsigned>(-1)},
    {HB_TAG('d', 'l', 'i', 'g'), 0, 0, static_cast<unsigned>(-1)},
    {HB_TAG('h', 'l', 'i', 'g'), 0, 0, static_cast<unsigned>(-1)},
    {HB_TAG('c', 'a', 'l', 't'), 0, 0, static_cast<unsigned>(-1)},
}};

/// Spaces, controls and joiners leave no ink by right.
bool MayBeBlank(const std::string& character) {
  switch (hb_unicode_general_category(hb_unicode_funcs_get_default(), CodePoint(character))) {
    case HB_UNICODE_GENERAL_CATEGORY_SPACE_SEPARATOR:
    case HB_UNICODE_GENERAL_CATEGORY_CONTROL:
    case HB_UNICODE_GENERAL_CATEGORY_FORMAT:
    case HB_UNICODE_GENERAL_CATEGORY_NON_SPACING_MARK:
      return true;
    default:
      return false;
  }
}

Buffer Shape(const std::vector<std::string>& characters, hb_font_t* font) {
  Buffer buffer(hb_buffer_create());
  for (std::size_t i = 0; i < characters.size(); ++i) {
    hb_buffer_add(buffer.get(), CodePoint(characters[i]), static_cast<unsigned>(i));
  }
  hb_buffer_set_content_type(buffer.get(), HB_BUFFER_CONTENT_TYPE_UNICODE);
  hb_buffer_set_direction(buffer.get(), HB_DIRECTION_LTR);
  // Named, because HarfBuzz would otherwise take the language of the user's locale.
  hb_buffer_set_language(buffer.get(), hb_language_from_string("und", -1));
  hb_buffer_guess_segment_properties(buffer.get());
  hb_shape(font, buffer.get(), kFeatures.data(), static_cast<unsigned>(kFeatures.size()));
  return buffer;
}

struct ShapedGlyph {
  unsigned glyph = 0;
  std::size_t cluster = 0;
  double x_offset = 0;
  double y_offset = 0;
  double advance = 0;
};

std::vector<ShapedGlyph> GlyphsOf(hb_buffer_t* buffer) {
  unsigned count = 0;
  const hb_glyph_info_t* infos = hb_buffer_get_glyph_infos(buffer, &count);
  const hb_glyph_position_t* positions = hb_buffer_get_glyph_positions(buffer, &count);
  std::vector<ShapedGlyph> glyphs;
  for (unsigned i = 0; i < count; ++i) {
    glyphs.push_back(
        {infos[i].codepoint, infos[i].cluster, static_cast<double>(positions[i].x_offset),
         static_cast<double>(positions[i].y_offset), static_cast<double>(positions[i].x_advance)});
  }
  return glyphs;
}

std::string Joined(const std::vector<std::string>& parts, std::size_t begin, std::size_t end) {
  std::string joined;
  for (std::size_t i = begin; i < end; ++i) joined += parts[i];
  return joined;
}

Unexpected NotCovered(const std::string& where, const std::vector<std::string>& missing) {
  return Refuse(ErrorCode::kTextNotCovered, "typeset", where,
                fmt::format("has no glyph for {}", fmt::join(missing, " ")),
                "choose a font that has every character of the text");
}

void AddOnce(std::vector<std::string>& list, const std::string& item) {
  if (std::find(list.begin(), list.end(), item) == list.end()) list.push_back(item);
}

/// Moves the line so that its first ink stands at x = 0.
void StartAtFirstInk(std::vector<PlacedGlyph>& placed) {
  if (placed.empty()) return;
  outline::Affine shift;
  shift.offset.x() = -Bounds(placed.front().outline).min.x();
  for (PlacedGlyph& glyph : placed) glyph.outline = Transformed(glyph.outline, shift);
}

}  // namespace

Result<std::vector<PlacedGlyph>> Font::SetLine(const std::string& text, double tracking) const {
  const std::vector<std::string> characters = outline::Characters(text);
  if (characters.size() > kMaxCharacters) {
    return Refuse(ErrorCode::kUsage, "typeset", impl_->where, "the line is too long",
                  "give at most 1000 characters");
  }
  if (!std::isfinite(tracking)) {
    return Refuse(ErrorCode::kUsage, "typeset", impl_->where, "the tracking is not a number",
                  "give it in cap heights");
  }
  const double cap_height =
      impl_->cap_height > 0 ? impl_->cap_height : os2_cap_height() * impl_->units_per_em;
  if (!(cap_height > 0)) return NotCovered(impl_->where, {"H (the cap height is taken from it)"});

  const Buffer buffer = Shape(characters, impl_->shaper.get());
  if (!hb_buffer_allocation_successful(buffer.get())) {
    return Refuse(ErrorCode::kInternal, "typeset", impl_->where, "HarfBuzz ran out of memory",
                  "free some memory and try again");
  }
  const std::vector<ShapedGlyph> glyphs = GlyphsOf(buffer.get());
  std::vector<PlacedGlyph> placed;
  std::vector<std::string> missing;
  double pen = 0;  // Font units.
  for (std::size_t i = 0; i < glyphs.size();) {
    // A cluster is a letter with its combining accents: one impression of the die.
    const std::size_t cluster = glyphs[i].cluster;
    PlacedGlyph one;
    double advance = tracking * cap_height;
    for (; i < glyphs.size() && glyphs[i].cluster == cluster; ++i) {
      if (glyphs[i].glyph == 0) AddOnce(missing, characters[cluster]);
      auto shape = impl_->GlyphOutline(glyphs[i].glyph);
      if (!shape) return PassOn(shape);
      const double x = pen + (advance - tracking * cap_height) + glyphs[i].x_offset;
      Append(one.outline,
             Transformed(*shape, {Eigen::Matrix2d::Identity() / cap_height,
                                  outline::Point(x, glyphs[i].y_offset) / cap_height}));
      advance += glyphs[i].advance;
    }
    pen += advance;
    one.index = static_cast<int>(cluster);
    one.character =
        Joined(characters, cluster, i < glyphs.size() ? glyphs[i].cluster : characters.size());
    one.advance = advance / cap_height;
    if (!one.outline.empty()) {
      placed.push_back(std::move(one));
    } else if (!MayBeBlank(characters[cluster])) {
      AddOnce(missing, characters[cluster]);
    }
  }
  if (!missing.empty()) return NotCovered(impl_->where, missing);
  StartAtFirstInk(placed);
  return placed;
}

}  // namespace debossier::typeset
