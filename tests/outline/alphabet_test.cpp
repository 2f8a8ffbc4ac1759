// The plain alphabets of glyphs/ hold every letter the templates need, drawn without flaws.
//
// Frame: font units (1000 an em, cap height 700), y up.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <map>
#include <ostream>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "outline/outline.h"
#include "outline/ufo.h"

namespace debossier::outline {
namespace {

constexpr std::u32string_view kCapitals = U"ABCDEFGHIJKLMNOPQRSTUVWXYZ";
constexpr std::u32string_view kSmallLetters = U"abcdefghijklmnopqrstuvwxyz";
constexpr std::u32string_view kFigures = U"0123456789";
constexpr std::u32string_view kSigns = U".,-&'\u2019\u00B7\u00AE\u00A9\u2122";
constexpr std::u32string_view kAccented =
    U"\u00C9\u00C8\u00C0\u00C7\u00DC\u00D6\u00D1\u00E9\u00E8\u00E0\u00E7\u00FC\u00F6\u00F1";

/// How many contours a character has in both alphabets: pieces and counters, by the character's
/// usual form. The small g differs between the two and is checked on its own.
constexpr std::array<std::pair<int, std::u32string_view>, 4> kContourCounts = {{
    {1, U"CEFGHIJKLMNSTUVWXYZcfhklmnrstuvwxyz12357.,-'\u2019\u00B7\u00C7\u00E7"},
    {2, U"ADOPQRabdeijopq0469\u2122\u00C9\u00C8\u00D1\u00F1"},
    {3, U"B8&\u00A9\u00C0\u00DC\u00E9\u00E8\u00E0\u00FC"},
    {4, U"\u00AE\u00D6\u00F6"},
}};

/// Round letters overshoot their flat neighbours by 1 to 3 % of the height: common practice of
/// the trade; DIN 1451-4 draws 1.43 % (H 63 mm high, G 64.8 mm).
constexpr double kLeastOvershoot = 0.01;
constexpr double kMostOvershoot = 0.03;

struct Alphabet {
  std::string name;
  int contours_of_small_g;
};

void PrintTo(const Alphabet& alphabet, std::ostream* to) { *to << alphabet.name; }

/// The least and the greatest winding number along the horizontal through `y`, from outside on.
std::pair<int, int> WindingRange(const std::vector<Polyline>& polygons, double y) {
  std::vector<std::pair<double, int>> crossings;  // x, and how the winding changes there
  for (const Polyline& polygon : polygons) {
    for (std::size_t i = 0; i < polygon.size(); ++i) {
      const Point& a = polygon[i];
      const Point& b = polygon[(i + 1) % polygon.size()];
      if ((a.y() > y) == (b.y() > y)) continue;
      const double along = (y - a.y()) / (b.y() - a.y());
      crossings.emplace_back(a.x() + along * (b.x() - a.x()), b.y() < a.y() ? 1 : -1);
    }
  }
  std::sort(crossings.begin(), crossings.end());
  std::pair<int, int> range = {0, 0};
  int winding = 0;
  for (const auto& [x, change] : crossings) {
    winding += change;
    range.first = std::min(range.first, winding);
    range.second = std::max(range.second, winding);
  }
  return range;
}

class AlphabetTest : public testing::TestWithParam<Alphabet> {
 protected:
  void SetUp() override {
    const std::filesystem::path folder =
        std::filesystem::path(DEBOSSIER_SOURCE) / "glyphs" / ("plain-" + GetParam().name + ".ufo");
    auto loaded = LoadUfo(folder);
    ASSERT_TRUE(loaded.has_value()) << loaded.error().ToString();
    font_ = *std::move(loaded);
    for (const UfoGlyph& glyph : font_.glyphs) {
      for (const char32_t code : glyph.unicodes) by_code_[code] = &glyph;
    }
  }

  /// The glyph of `code`; an empty one, and a failure, where it is missing.
  const UfoGlyph& Glyph(char32_t code) const {
    static const UfoGlyph kMissing;
    const auto found = by_code_.find(code);
    if (found != by_code_.end()) return *found->second;
    ADD_FAILURE() << "no glyph for U+" << std::hex << static_cast<unsigned>(code);
    return kMissing;
  }

  Box BoxOf(char32_t code) const { return Bounds(Glyph(code).outline); }

  UfoFont font_;
  std::map<char32_t, const UfoGlyph*> by_code_;
};

TEST_P(AlphabetTest, HoldsEveryCharacterOfTheTemplates) {
  EXPECT_EQ(font_.units_per_em, 1000);
  EXPECT_EQ(font_.cap_height, 700);
  EXPECT_FALSE(font_.note.empty());
  for (const auto& set : {kCapitals, kSmallLetters, kFigures, kSigns, kAccented}) {
    for (const char32_t code : set) {
      const UfoGlyph& glyph = Glyph(code);
      EXPECT_FALSE(glyph.outline.empty()) << glyph.name;
      EXPECT_GT(glyph.advance, Bounds(glyph.outline).width()) << glyph.name;
    }
  }
  EXPECT_TRUE(Glyph(U' ').outline.empty());
  EXPECT_GT(Glyph(U' ').advance, 0);
}

TEST_P(AlphabetTest, HasTheContoursOfEachCharacter) {
  for (const auto& [count, characters] : kContourCounts) {
    for (const char32_t code : characters) {
      EXPECT_EQ(static_cast<int>(Glyph(code).outline.contours.size()), count) << Glyph(code).name;
    }
  }
  EXPECT_EQ(static_cast<int>(Glyph(U'g').outline.contours.size()), GetParam().contours_of_small_g);
}

TEST_P(AlphabetTest, ClosesEveryContour) {
  for (const UfoGlyph& glyph : font_.glyphs) {
    for (const Contour& contour : glyph.outline.contours) {
      ASSERT_GE(contour.segments.size(), 3u) << glyph.name;
      EXPECT_EQ(contour.segments.back().end, contour.start) << glyph.name;
    }
  }
}

TEST_P(AlphabetTest, RunsOuterContoursCounterClockwiseAndCountersClockwise) {
  for (const UfoGlyph& glyph : font_.glyphs) {
    const Outline& outline = glyph.outline;
    for (std::size_t i = 0; i < outline.contours.size(); ++i) {
      int depth = 0;
      for (std::size_t j = 0; j < outline.contours.size(); ++j) {
        if (i == j) continue;
        const auto around = Flatten(Outline{{outline.contours[j]}}, 0.1);
        if (Contains(around, outline.contours[i].start)) ++depth;
      }
      EXPECT_EQ(SignedArea(outline.contours[i]) > 0, depth % 2 == 0)
          << glyph.name << ", contour " << i;
    }
  }
}

TEST_P(AlphabetTest, NeverOverlapsItself) {
  // An overlap winds twice around the points it holds, a wrong direction minus once.
  for (const UfoGlyph& glyph : font_.glyphs) {
    const Box box = Bounds(glyph.outline);
    const auto polygons = Flatten(glyph.outline, 0.02);
    for (double y = box.min.y() + 0.37; y < box.max.y(); y += 1) {
      const auto [least, most] = WindingRange(polygons, y);
      ASSERT_EQ(least, 0) << glyph.name << " at y = " << y;
      ASSERT_LE(most, 1) << glyph.name << " at y = " << y;
    }
  }
}

TEST_P(AlphabetTest, PutsAPointAtEveryExtreme) {
  for (const UfoGlyph& glyph : font_.glyphs) {
    for (const Contour& contour : glyph.outline.contours) {
      Box points;
      for (const Segment& segment : contour.segments) points.Add(segment.end);
      const Box exact = Bounds(contour);
      EXPECT_NEAR((points.min - exact.min).norm(), 0, 0.5) << glyph.name;
      EXPECT_NEAR((points.max - exact.max).norm(), 0, 0.5) << glyph.name;
    }
  }
}

TEST_P(AlphabetTest, StandsFlatLettersOnTheirLines) {
  for (const char32_t code : std::u32string_view(U"BDEFHIKLPRTXYZ")) {
    EXPECT_DOUBLE_EQ(BoxOf(code).min.y(), 0) << Glyph(code).name;
    EXPECT_DOUBLE_EQ(BoxOf(code).max.y(), font_.cap_height) << Glyph(code).name;
  }
  for (const char32_t code : std::u32string_view(U"uvwxyz")) {
    EXPECT_DOUBLE_EQ(BoxOf(code).max.y(), font_.x_height) << Glyph(code).name;
  }
  for (const char32_t code : std::u32string_view(U"fhiklmnrxz1247")) {
    EXPECT_DOUBLE_EQ(BoxOf(code).min.y(), 0) << Glyph(code).name;
  }
  for (const char32_t code : std::u32string_view(U"bdhkl")) {
    EXPECT_DOUBLE_EQ(BoxOf(code).max.y(), font_.ascender) << Glyph(code).name;
  }
  for (const char32_t code : std::u32string_view(U"pq")) {
    EXPECT_DOUBLE_EQ(BoxOf(code).min.y(), font_.descender) << Glyph(code).name;
  }
}

TEST_P(AlphabetTest, LetsRoundLettersOvershoot) {
  const auto expect_overshoot = [&](std::u32string_view characters, double height) {
    for (const char32_t code : characters) {
      const Box box = BoxOf(code);
      for (const double beyond : {box.max.y() - height, -box.min.y()}) {
        EXPECT_GE(beyond, kLeastOvershoot * height) << Glyph(code).name;
        EXPECT_LE(beyond, kMostOvershoot * height) << Glyph(code).name;
      }
    }
  };
  expect_overshoot(U"CGOS038", font_.cap_height);
  expect_overshoot(U"aceos", font_.x_height);
}

TEST_P(AlphabetTest, GivesAccentedLettersTheBodyOfTheirBase) {
  const std::u32string_view bases = U"EEACUONeeacuon";
  ASSERT_EQ(bases.size(), kAccented.size());
  for (std::size_t i = 0; i < bases.size(); ++i) {
    EXPECT_EQ(Glyph(kAccented[i]).advance, Glyph(bases[i]).advance) << Glyph(kAccented[i]).name;
    EXPECT_GT(SignedArea(Glyph(kAccented[i]).outline), SignedArea(Glyph(bases[i]).outline))
        << Glyph(kAccented[i]).name;
  }
}

INSTANTIATE_TEST_SUITE_P(Glyphs, AlphabetTest,
                         testing::Values(Alphabet{"sans", 2}, Alphabet{"serif", 3}),
                         [](const auto& tested) { return tested.param.name; });

}  // namespace
}  // namespace debossier::outline
