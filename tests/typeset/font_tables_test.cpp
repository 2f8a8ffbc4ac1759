// Lines set in installed fonts against the fonts' own tables and FreeType's rasteriser.
#include <gtest/gtest.h>

#include "typeset/font.h"

#include <optional>

#include "font_tables.h"
#include "installed_fonts.h"

namespace debossier::typeset {
namespace {

using outline::Box;

class AgainstTables : public ::testing::TestWithParam<Installed> {
 protected:
  void SetUp() override {
    if (!std::filesystem::exists(PathOf(GetParam())))
      GTEST_SKIP() << "needs " << GetParam().package;
    auto loaded = Font::Load(PathOf(GetParam()));
    ASSERT_TRUE(loaded) << loaded.error().ToString();
    font_.emplace(*std::move(loaded));
    tables_.emplace(PathOf(GetParam()));
  }

  double units_per_em() const { return tables_->face()->units_per_EM; }
  /// Font units in a cap height, as the font under test sets lines.
  double units() const { return font_->cap_height() * units_per_em(); }

  std::optional<Font> font_;
  std::optional<FontTables> tables_;
};

INSTANTIATE_TEST_SUITE_P(Debian, AgainstTables, ::testing::ValuesIn(kFonts),
                         [](const auto& font) { return font.param.name; });

TEST_P(AgainstTables, HeightsAreThoseOfTheFlatLettersAndOfOs2) {
  EXPECT_EQ(units(), tables_->InkOf(tables_->Glyph(U'H')).top);
  EXPECT_EQ(font_->x_height() * units_per_em(), tables_->InkOf(tables_->Glyph(U'x')).top);
  EXPECT_EQ(font_->os2_cap_height() * units_per_em(), tables_->Os2(88));
  EXPECT_EQ(font_->os2_x_height() * units_per_em(), tables_->Os2(86));
  if (tables_->Os2(88) == 0) return;
  // Foundries round what they declare; the widest gap among these fonts is 1.5 %.
  EXPECT_NEAR(font_->cap_height(), font_->os2_cap_height(), 0.02 * font_->cap_height());
  EXPECT_NEAR(font_->x_height(), font_->os2_x_height(), 0.02 * font_->x_height());
}

TEST_P(AgainstTables, GapsAreBearingsPlusKerning) {
  // OpenType: gap = right bearing (advance less right ink edge) + kerning + left bearing.
  const std::u32string letters = U"AEHLMOPTVWYaeinortvy";
  int kerned = 0;
  for (const char32_t left : letters) {
    for (const char32_t right : letters) {
      const unsigned a = tables_->Glyph(left);
      const unsigned b = tables_->Glyph(right);
      const int kerning = tables_->Kerning(a, b);
      kerned += kerning != 0 ? 1 : 0;
      const Ink ink = tables_->InkOf(a);
      const double gap = tables_->Advance(a) - ink.right + kerning + tables_->InkOf(b).left;
      const std::string text{static_cast<char>(left), static_cast<char>(right)};
      const auto line = font_->SetLine(text);
      ASSERT_TRUE(line) << line.error().ToString();
      ASSERT_EQ(line->size(), 2u);
      const Box first = Bounds(line->front().outline);
      EXPECT_NEAR(first.min.x(), 0, 1e-12);
      // FreeType rounds the extremes of curves to whole units.
      EXPECT_NEAR((Bounds(line->back().outline).min.x() - first.max.x()) * units(), gap, 2) << text;
      EXPECT_NEAR(line->front().advance * units(), tables_->Advance(a) + kerning, 1e-9) << text;
      EXPECT_NEAR(first.width() * units(), ink.right - ink.left, 2) << text;
    }
  }
  const std::string name = GetParam().name;
  if (name != "osifont" && name != "OspDin") {
    EXPECT_GT(kerned, 20) << "kerning was not tried";
  }
}

TEST_P(AgainstTables, AreaIsWhatFreeTypesRasteriserFills) {
  constexpr int kEmPx = 400;
  FT_Set_Pixel_Sizes(tables_->face(), kEmPx, kEmPx);
  for (const char32_t letter : std::u32string(U"ABDOQRSaegos8&\u00AE\u00A9")) {
    const unsigned glyph = tables_->Glyph(letter);
    if (glyph == 0) continue;
    std::string text;
    if (letter < 0x80) {
      text = static_cast<char>(letter);
    } else {
      text = {static_cast<char>(0xC2), static_cast<char>(letter)};
    }
    const auto line = font_->SetLine(text);
    ASSERT_TRUE(line) << line.error().ToString();
    ASSERT_EQ(FT_Load_Glyph(tables_->face(), glyph, FT_LOAD_RENDER | FT_LOAD_NO_HINTING), 0);
    const FT_Bitmap& bitmap = tables_->face()->glyph->bitmap;
    double covered = 0;
    for (unsigned y = 0; y < bitmap.rows; ++y) {
      for (unsigned x = 0; x < bitmap.width; ++x) {
        covered += bitmap.buffer[static_cast<std::ptrdiff_t>(y) * bitmap.pitch + x] / 255.0;
      }
    }
    const double scale = kEmPx * font_->cap_height();
    EXPECT_NEAR(SignedArea(line->front().outline) * scale * scale, covered, 0.004 * covered)
        << text;
  }
}

TEST_P(AgainstTables, SpacesTakeTheirAdvance) {
  const auto line = font_->SetLine("H H");
  ASSERT_TRUE(line);
  ASSERT_EQ(line->size(), 2u);
  EXPECT_EQ((*line)[1].index, 2);
  const double units_apart =
      (Bounds((*line)[1].outline).min.x() - Bounds((*line)[0].outline).min.x()) * units();
  const unsigned h = tables_->Glyph(U'H');
  const unsigned space = tables_->Glyph(U' ');
  const int kerning = tables_->Kerning(h, space) + tables_->Kerning(space, h);
  EXPECT_NEAR(units_apart, tables_->Advance(h) + tables_->Advance(space) + kerning, 1e-9);
}

}  // namespace
}  // namespace debossier::typeset
