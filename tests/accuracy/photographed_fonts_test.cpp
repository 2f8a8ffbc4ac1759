// From outside, through photographs: lines set in other people's fonts, photographed by the
// simulator, traced to a set, held against the fonts' own tables and the standards they draw.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "image/photo.h"
#include "refset/create.h"
#include "simulate/simulate.h"
#include "trace/consensus.h"
#include "typeset/font.h"
#include "typeset/installed_fonts.h"

namespace debossier::accuracy {
namespace {

constexpr const char* kCapitals = "HENTILA";
constexpr const char* kSmall = "xinzum";

Result<outline::Lettering> DieIn(const typeset::Font& font) {
  std::vector<typeset::LineSpec> lines(2);
  lines[0] = {"wordmark", kCapitals, 1, 0.06, 0};
  lines[1] = {"origin", kSmall, 1, 0.06, -1.5};
  auto die = typeset::LayOut(font, nullptr, lines, {.character = ""}, {});
  if (die) trace::Normalise(*die);
  return die;
}

Result<refset::Created> SetOf(const outline::Lettering& die) {
  std::vector<image::Photo> photos;
  for (std::uint64_t seed = 61; seed < 64; ++seed) {
    auto options = simulate::DrawOptions(simulate::Level::kClean, seed);
    options->amounts.cap_height_px = 110;
    auto bytes = simulate::EncodeSimulated(*simulate::Simulate(die, *options));
    photos.push_back(*image::PhotoFromBytes(std::move(*bytes), "shot.jpg"));
  }
  refset::CreateOptions create;
  create.id = "outside";
  layout::TextSpec text;
  text.lines = {{"wordmark", kCapitals}, {"origin", kSmall}};
  return refset::CreateFromPhotos(photos, text, create);
}

class Photographed : public testing::TestWithParam<typeset::Installed> {};

// OpenType, hmtx and GPOS: the ink gap is right bearing + kerning + left bearing, as SetLine lays
// it out and typeset.AgainstTables holds against the tables; OS/2 sxHeight over sCapHeight.
TEST_P(Photographed, GapsAndHeightsAreTheFonts) {
  if (!std::filesystem::exists(PathOf(GetParam()))) {
    GTEST_SKIP() << "install " << GetParam().package;
  }
  const auto font = typeset::Font::Load(PathOf(GetParam()));
  ASSERT_TRUE(font);
  const auto die = DieIn(*font);
  ASSERT_TRUE(die) << die.error().ToString();
  const auto made = SetOf(*die);
  ASSERT_TRUE(made) << made.error().ToString();
  const auto& seen = made->set.lettering;
  ASSERT_EQ(seen.elements.size(), die->elements.size());
  // A stamp's edges stand a little further out than the die's: by half of what the stems grew.
  const auto width = [](const outline::Element& e) { return outline::Bounds(e.outline).width(); };
  double gain = 0;
  int stems = 0;
  for (std::size_t i = 0; i < seen.elements.size(); ++i) {
    if (die->elements[i].character != "I") continue;
    gain += 0.5 * (width(seen.elements[i]) - width(die->elements[i]));
    ++stems;
  }
  ASSERT_GT(stems, 0);
  gain /= stems;
  EXPECT_GT(gain, -0.005);
  EXPECT_LT(gain, 0.03) << "cap heights an edge";
  const double ratio = font->x_height() / font->cap_height();
  const double unit = 1 + 2 * gain;
  EXPECT_NEAR(seen.lines[1].x_height, (ratio + 2 * gain) / unit, 0.012) << "lower case ratio";
  for (std::size_t i = 0; i + 1 < seen.elements.size(); ++i) {
    if (seen.elements[i].line_idx != seen.elements[i + 1].line_idx) continue;
    const auto gap = [&](const outline::Lettering& of) {
      return outline::Bounds(of.elements[i + 1].outline).min.x() -
             outline::Bounds(of.elements[i].outline).max.x();
    };
    EXPECT_NEAR(gap(seen), (gap(*die) - 2 * gain) / unit, 0.02)
        << seen.elements[i].character << seen.elements[i + 1].character;
  }
}

// ISO 3098-0 type B: lower case 7/10 h, stroke 1/10 h. DIN 1451-3: lower case 5/7 h.
TEST(PhotographedStandards, LowerCaseAndStroke) {
  const auto of = [](const typeset::Installed& font, double lower_case, double tolerance) {
    if (!std::filesystem::exists(PathOf(font))) return;
    const auto loaded = typeset::Font::Load(PathOf(font));
    ASSERT_TRUE(loaded);
    const auto die = DieIn(*loaded);
    ASSERT_TRUE(die);
    const auto made = SetOf(*die);
    ASSERT_TRUE(made) << made.error().ToString();
    EXPECT_NEAR(made->set.lettering.lines[1].x_height, lower_case, tolerance) << font.name;
  };
  of(typeset::kOsifont, 0.7, 0.02);
  of(typeset::kDin, 5.0 / 7, 0.03);
}

INSTANTIATE_TEST_SUITE_P(Debian, Photographed,
                         testing::Values(typeset::kOsifont, typeset::kDin, typeset::kDejaVuSans,
                                         typeset::kFonts[2], typeset::kFonts[4],
                                         typeset::kFonts[5]),
                         [](const auto& font) { return std::string(font.param.name); });

}  // namespace
}  // namespace debossier::accuracy
