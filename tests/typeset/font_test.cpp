// Lines set in installed fonts: ligatures, tracking, accents, directions, published lettering
// standards, and files that are no fonts or damaged ones.
#include "typeset/font.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <fstream>
#include <iterator>
#include <optional>
#include <random>

#include "installed_fonts.h"

namespace debossier::typeset {
namespace {

namespace fs = std::filesystem;
using outline::Outline;

class InAFont : public ::testing::TestWithParam<Installed> {
 protected:
  void SetUp() override {
    if (!fs::exists(PathOf(GetParam()))) GTEST_SKIP() << "needs " << GetParam().package;
    auto loaded = Font::Load(PathOf(GetParam()));
    ASSERT_TRUE(loaded) << loaded.error().ToString();
    font_.emplace(*std::move(loaded));
  }

  std::optional<Font> font_;
};

INSTANTIATE_TEST_SUITE_P(Debian, InAFont, ::testing::ValuesIn(kFonts),
                         [](const auto& font) { return font.param.name; });

TEST_P(InAFont, FilledSideIsOnTheLeftInEveryContour) {
  const std::string all =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
      "\xC3\xA9\xC3\x85\xC3\xBC\xC3\xA7";
  for (const std::string& character : outline::Characters(all)) {
    const auto line = font_->SetLine(character);
    if (!line) continue;  // Not every face has every accent.
    const Outline& shape = line->front().outline;
    const auto polygons = Flatten(shape, 1e-4);
    std::vector<int> right(shape.contours.size());
    std::vector<int> wrong(shape.contours.size());
    for (const outline::EdgeSample& sample : SampleEdge(shape, 0.02)) {
      const bool left_filled = outline::Contains(polygons, sample.point - 1e-3 * sample.normal);
      const bool right_filled = outline::Contains(polygons, sample.point + 1e-3 * sample.normal);
      right[sample.contour_idx] += left_filled && !right_filled ? 1 : 0;
      wrong[sample.contour_idx] += right_filled && !left_filled ? 1 : 0;
    }
    for (std::size_t i = 0; i < right.size(); ++i) {
      EXPECT_GT(right[i], 20 * wrong[i]) << character << " contour " << i;
    }
  }
}

TEST_P(InAFont, OneGlyphACharacterWithoutLigatures) {
  const auto line = font_->SetLine("office fi fl");
  ASSERT_TRUE(line) << line.error().ToString();
  std::string spelled;
  for (const PlacedGlyph& glyph : *line) {
    EXPECT_EQ(glyph.character, std::string(1, "office fi fl"[glyph.index]));
    spelled += glyph.character;
  }
  EXPECT_EQ(spelled, "officefifl");
}

TEST_P(InAFont, TrackingMovesEachFollowingLetterByTheSame) {
  const auto plain = font_->SetLine("HEN");
  const auto tracked = font_->SetLine("HEN", 0.25);
  ASSERT_TRUE(plain && tracked);
  for (int i = 0; i < 3; ++i) {
    EXPECT_NEAR(Bounds((*tracked)[i].outline).min.x() - Bounds((*plain)[i].outline).min.x(),
                0.25 * i, 1e-12);
    EXPECT_NEAR((*tracked)[i].advance - (*plain)[i].advance, 0.25, 1e-12);
  }
}

TEST_P(InAFont, DamagedFilesNeverCrash) {
  std::ifstream file(PathOf(GetParam()), std::ios::binary);
  const std::string whole{std::istreambuf_iterator<char>(file), {}};
  const fs::path path = fs::temp_directory_path() /
                        (std::string("damaged-") + GetParam().name + std::to_string(::getpid()));
  std::mt19937 random(11);
  for (int round = 0; round < 40; ++round) {
    std::string damaged = whole;
    if (round % 4 == 0) damaged.resize(random() % damaged.size());
    for (int hit = 0; hit < 200 && !damaged.empty(); ++hit) {
      // Half of them where the table directory and the small tables lie.
      const std::size_t span =
          hit % 2 == 0 ? std::min<std::size_t>(2000, damaged.size()) : damaged.size();
      damaged[random() % span] = static_cast<char>(random() % 256);
    }
    std::ofstream(path, std::ios::binary).write(damaged.data(), std::ssize(damaged));
    const auto font = Font::Load(path);
    if (!font) {
      EXPECT_EQ(font.error().code, ErrorCode::kSetUnreadable);
      continue;
    }
    const auto line = font->SetLine("Hamburg \xC2\xAE \xC3\xA9");
    if (!line) continue;
    for (const PlacedGlyph& glyph : *line) {
      EXPECT_TRUE(std::isfinite(SignedArea(glyph.outline)) && std::isfinite(glyph.advance));
    }
  }
  fs::remove(path);
}

Result<Font> LoadInstalled(const Installed& font) { return Font::Load(PathOf(font)); }

TEST(Font, CombiningAccentStaysWithItsLetter) {
  const auto font = LoadInstalled(kDejaVuSans);
  if (!font) GTEST_SKIP() << "needs " << kDejaVuSans.package;
  // Composed where the font has the composed letter, stacked where it has not.
  const auto composed = font->SetLine("\xC3\xA9s");
  const auto decomposed = font->SetLine("e\xCC\x81s");
  ASSERT_TRUE(composed && decomposed);
  ASSERT_EQ(decomposed->size(), 2u);
  EXPECT_EQ(decomposed->front().character, "e\xCC\x81");
  EXPECT_EQ(decomposed->back().index, 2);
  EXPECT_NEAR(SignedArea(composed->front().outline), SignedArea(decomposed->front().outline), 1e-9);
  const auto stacked = font->SetLine("x\xCC\x81");
  ASSERT_TRUE(stacked);
  ASSERT_EQ(stacked->size(), 1u);
  EXPECT_GT(Bounds(stacked->front().outline).max.y(), 1.2 * font->x_height() / font->cap_height());
}

TEST(Font, LettersOfIso3098HaveItsProportions) {
  const auto font = LoadInstalled(kOsifont);
  if (!font) GTEST_SKIP() << "needs " << kOsifont.package;
  // ISO 3098-0, lettering type B: lower case 7/10 h, stroke 1/10 h.
  EXPECT_NEAR(font->x_height() / font->cap_height(), 0.7, 0.003);
  const auto line = font->SetLine("I");
  ASSERT_TRUE(line);
  EXPECT_NEAR(Bounds(line->front().outline).width(), 0.1, 0.003);
}

TEST(Font, LettersOfDin1451HaveItsProportions) {
  const auto font = LoadInstalled(kDin);
  if (!font) GTEST_SKIP() << "needs " << kDin.package;
  // DIN 1451-3:1987, table 1: lower case 5/7 h, stroke 1/7 h.
  EXPECT_NEAR(font->x_height() / font->cap_height(), 5. / 7, 0.003);
  const auto line = font->SetLine("I");
  ASSERT_TRUE(line);
  EXPECT_NEAR(Bounds(line->front().outline).width(), 1. / 7, 0.005);
}

TEST(Font, NamesWhatIsMissing) {
  const auto font = LoadInstalled(kDejaVuSans);
  if (!font) GTEST_SKIP() << "needs " << kDejaVuSans.package;
  EXPECT_TRUE(font->Has(U'A'));
  EXPECT_FALSE(font->Has(U'\u5B57'));
  EXPECT_EQ(font->family_name(), "DejaVu Sans");
  const auto line = font->SetLine("A\xE5\xAD\x97 B\xE6\x96\x87\xE5\xAD\x97");
  ASSERT_FALSE(line);
  EXPECT_EQ(line.error().code, ErrorCode::kTextNotCovered);
  EXPECT_EQ(line.error().message, "has no glyph for \xE5\xAD\x97 \xE6\x96\x87");
  EXPECT_EQ(font->SetLine(std::string(1001, 'A')).error().code, ErrorCode::kUsage);
  EXPECT_EQ(font->SetLine("A", std::nan("")).error().code, ErrorCode::kUsage);
  EXPECT_TRUE(font->SetLine("")->empty());
  EXPECT_TRUE(font->SetLine(" \xC2\xA0")->empty());
}

TEST(Font, RefusesWhatIsNoFont) {
  EXPECT_EQ(Font::Load("/nowhere/font.ttf").error().code, ErrorCode::kFileMissing);
  EXPECT_EQ(Font::Load(fs::path(DEBOSSIER_SOURCE) / "CMakeLists.txt").error().code,
            ErrorCode::kSetUnreadable);
  if (!fs::exists(PathOf(kDejaVuSans))) GTEST_SKIP() << "needs " << kDejaVuSans.package;
  EXPECT_EQ(Font::Load(PathOf(kDejaVuSans), 1).error().code, ErrorCode::kSetUnreadable);
  EXPECT_EQ(Font::Load(PathOf(kDejaVuSans), -1).error().code, ErrorCode::kSetUnreadable);
}

}  // namespace
}  // namespace debossier::typeset
