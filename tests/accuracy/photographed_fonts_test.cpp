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

Result<refset::Created> SetOf(const outline::Lettering& die, const reading::TextSpec& text) {
  std::vector<image::Photo> photos;
  for (std::uint64_t seed = 61; seed < 64; ++seed) {
    auto options = simulate::DrawOptions(simulate::Level::kClean, seed);
    options->amounts.cap_height_px = 110;
    auto bytes = simulate::EncodeSimulated(*simulate::Simulate(die, *options));
    photos.push_back(*image::PhotoFromBytes(std::move(*bytes), "shot.jpg"));
  }
  refset::CreateOptions create;
  create.id = "outside";
  return refset::CreateFromPhotos(photos, text, create);
}

reading::TextSpec TwoLines() {
  reading::TextSpec text;
  text.lines = {{"wordmark", kCapitals}, {"origin", kSmall}};
  return text;
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
  const auto made = SetOf(*die, TwoLines());
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
    const auto made = SetOf(*die, TwoLines());
    ASSERT_TRUE(made) << made.error().ToString();
    EXPECT_NEAR(made->set.lettering.lines[1].x_height, lower_case, tolerance) << font.name;
  };
  of(typeset::kOsifont, 0.7, 0.02);
  of(typeset::kDin, 5.0 / 7, 0.03);
  // Standard Alphabets of the FHWA: loop height 75 % of the capitals'.
  of({"RoadgeekD", "truetype/roadgeek/RG2014D.ttf", "fonts-roadgeek"}, 0.75, 0.03);
}

/// A letter of upright and level bars, stroke 14 in a box of 50 by 79 mm, as on a number plate.
outline::Outline PlateLetter(char letter, double left) {
  constexpr double kHeight = 79;
  constexpr double kWidth = 50;
  constexpr double kStroke = 14;
  outline::Polyline p;
  const double middle = 0.5 * (kHeight - kStroke);
  const double in = kWidth - kStroke;
  if (letter == 'L') {
    p = {{0, 0},      {kWidth, 0}, {kWidth, kStroke}, {kStroke, kStroke}, {kStroke, kHeight},
         {0, kHeight}};
  } else if (letter == 'T') {
    const double stem = 0.5 * in;
    p = {{stem, 0},
         {stem + kStroke, 0},
         {stem + kStroke, kHeight - kStroke},
         {kWidth, kHeight - kStroke},
         {kWidth, kHeight},
         {0, kHeight},
         {0, kHeight - kStroke},
         {stem, kHeight - kStroke}};
  } else if (letter == 'E') {
    p = {{0, 0},
         {kWidth, 0},
         {kWidth, kStroke},
         {kStroke, kStroke},
         {kStroke, middle},
         {in, middle},
         {in, middle + kStroke},
         {kStroke, middle + kStroke},
         {kStroke, kHeight - kStroke},
         {kWidth, kHeight - kStroke},
         {kWidth, kHeight},
         {0, kHeight}};
  } else {
    p = {{0, 0},
         {kStroke, 0},
         {kStroke, middle},
         {in, middle},
         {in, 0},
         {kWidth, 0},
         {kWidth, kHeight},
         {in, kHeight},
         {in, middle + kStroke},
         {kStroke, middle + kStroke},
         {kStroke, kHeight},
         {0, kHeight}};
  }
  for (auto& point : p) point = (point + outline::Point(left, 0)) / kHeight;
  return {{outline::FromPolyline(p)}};
}

// The Road Vehicles (Display of Registration Marks) Regulations 2001 (SI 2001/561): height 79,
// width 50, stroke 14, space between characters 11 mm; tolerance 1 mm of height, .5 of the rest.
TEST(PhotographedStandards, NumberPlate) {
  const std::string text = "LETHTEL";
  outline::Lettering die;
  die.lines = {{"wordmark", text, 0, 1, 0}};
  for (std::size_t i = 0; i < text.size(); ++i) {
    die.elements.push_back({"wordmark." + std::to_string(i), 0, outline::ElementKind::kLetter,
                            text.substr(i, 1),
                            PlateLetter(text[i], 61.0 * static_cast<double>(i))});
  }
  reading::TextSpec plate;
  plate.lines = {{"wordmark", text}};
  const auto made = SetOf(die, plate);
  ASSERT_TRUE(made) << made.error().ToString();
  const auto& elements = made->set.lettering.elements;
  ASSERT_EQ(elements.size(), text.size());
  // In mm by the letters' pitch, which foil spread leaves alone; it grows what is measured from
  // edge to edge, and a gap loses as much.
  const auto box = [&](std::size_t i) { return outline::Bounds(elements[i].outline); };
  const double pitch = (box(6).min.x() - box(0).min.x()) / 6;
  const double mm = 61 / pitch;
  double spread = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    spread += 0.5 * (mm * box(i).width() - 50) / static_cast<double>(text.size());
  }
  EXPECT_GT(spread, -0.5);
  EXPECT_LT(spread, 2);
  for (std::size_t i = 0; i < text.size(); ++i) {
    EXPECT_NEAR(mm * box(i).width() - 2 * spread, 50, 1) << i;
    EXPECT_NEAR(mm * box(i).height() - 2 * spread, 79, 1) << i;
    if (i == 0) continue;
    EXPECT_NEAR(mm * (box(i).min.x() - box(i - 1).max.x()) + 2 * spread, 11, 1) << i;
  }
  // The stroke of the L's, by their area: stem and foot.
  for (const std::size_t i : {std::size_t{0}, text.size() - 1}) {
    const double area = mm * mm * outline::SignedArea(elements[i].outline);
    const double stroke = area / (mm * (box(i).width() + box(i).height()) - 14 - 2 * spread);
    EXPECT_NEAR(stroke - 2 * spread, 14, 1);
  }
}

// Twenty fonts of four packages, with both of the standards'.
constexpr const char* kUrw = "fonts-urw-base35";
constexpr const char* kLiberation = "fonts-liberation2";
constexpr typeset::Installed kTwenty[] = {
    typeset::kOsifont,
    typeset::kDin,
    typeset::kDejaVuSans,
    {"DejaVuSansBold", "truetype/dejavu/DejaVuSans-Bold.ttf", "fonts-dejavu-core"},
    {"DejaVuSerif", "truetype/dejavu/DejaVuSerif.ttf", "fonts-dejavu-core"},
    {"LiberationSans", "truetype/liberation2/LiberationSans-Regular.ttf", kLiberation},
    {"LiberationSansBold", "truetype/liberation2/LiberationSans-Bold.ttf", kLiberation},
    {"LiberationSerif", "truetype/liberation2/LiberationSerif-Regular.ttf", kLiberation},
    {"C059", "opentype/urw-base35/C059-Roman.otf", kUrw},
    {"C059Bold", "opentype/urw-base35/C059-Bold.otf", kUrw},
    {"NimbusRoman", "opentype/urw-base35/NimbusRoman-Regular.otf", kUrw},
    {"NimbusSans", "opentype/urw-base35/NimbusSans-Regular.otf", kUrw},
    {"NimbusSansBold", "opentype/urw-base35/NimbusSans-Bold.otf", kUrw},
    {"NimbusSansNarrow", "opentype/urw-base35/NimbusSansNarrow-Regular.otf", kUrw},
    {"P052", "opentype/urw-base35/P052-Roman.otf", kUrw},
    {"P052Bold", "opentype/urw-base35/P052-Bold.otf", kUrw},
    {"BookmanLight", "opentype/urw-base35/URWBookman-Light.otf", kUrw},
    {"BookmanDemi", "opentype/urw-base35/URWBookman-Demi.otf", kUrw},
    {"GothicBook", "opentype/urw-base35/URWGothic-Book.otf", kUrw},
    {"GothicDemi", "opentype/urw-base35/URWGothic-Demi.otf", kUrw},
};

INSTANTIATE_TEST_SUITE_P(Debian, Photographed, testing::ValuesIn(kTwenty),
                         [](const auto& font) { return std::string(font.param.name); });

}  // namespace
}  // namespace debossier::accuracy
