// Lines set in other people's faces, read with the project's own general ones.
#include "reading/line_reading.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "outline/outline.h"
#include "separate/raster.h"
#include "typeset/font.h"
#include "typeset/installed_fonts.h"

namespace debossier::reading {
namespace {

using outline::LineCase;

constexpr double kPx = 40;  // per cap height

/// `text` in `font`, blurred, with one stretch in nine of its foil worn off and a grain of ground.
LineBand BandOf(const typeset::Font& font, const std::string& text, double size) {
  const auto glyphs = font.SetLine(text, 0.05);
  LineBand band;
  if (!glyphs) return band;
  outline::Box box;
  for (const auto& g : *glyphs) box.Add(outline::Bounds(g.outline));
  constexpr double kAside = 2;
  const cv::Size pixels(cvCeil((box.width() * size + 2 * kAside) * kPx), cvCeil(3.1 * kPx));
  band.coverage = cv::Mat::zeros(pixels, CV_32F);
  band.baseline = 2 * kPx + 4;
  std::vector<outline::Polyline> all;
  for (const auto& g : *glyphs) {
    for (auto polygon : outline::Flatten(g.outline, 0.005)) {
      for (auto& p : polygon) {
        p = outline::Point(kAside + size * p.x(), -size * p.y()) * kPx +
            outline::Point(0, band.baseline);
      }
      all.push_back(std::move(polygon));
    }
  }
  separate::AddAreaCoverage(all, band.coverage);
  cv::RNG random(7);
  cv::Mat noise(pixels, CV_32F);
  random.fill(noise, cv::RNG::NORMAL, 0, 1);
  cv::GaussianBlur(noise, noise, cv::Size(), 3);
  band.coverage.setTo(0, noise > 0.12);
  band.coverage += 0.5 * cv::max(noise, 0);
  band.blur_px = 2;
  cv::GaussianBlur(band.coverage, band.coverage, cv::Size(), band.blur_px);
  band.coverage = cv::min(band.coverage, 1.0);
  return band;
}

class ReadsFont : public testing::TestWithParam<typeset::Installed> {
 protected:
  void SetUp() override {
    if (!std::filesystem::exists(PathOf(GetParam()))) {
      GTEST_SKIP() << "install " << GetParam().package;
    }
    auto loaded = typeset::Font::Load(PathOf(GetParam()));
    ASSERT_TRUE(loaded);
    font_ = std::make_unique<typeset::Font>(std::move(*loaded));
  }
  std::unique_ptr<typeset::Font> font_;
};

TEST_P(ReadsFont, CaseOfALineOrNothing) {
  int told = 0;
  for (const std::string text : {"MADE IN VALDORE", "HAND STITCHED", "PARIS NOUVAL"}) {
    for (const auto which : {LineCase::kCapitals, LineCase::kTitle, LineCase::kSmall}) {
      for (const double size : {0.85, 1.15}) {
        const auto band = BandOf(*font_, outline::InCase(text, which), size);
        const auto reading = ReadCase(band, text);
        if (reading.line_case == LineCase::kCannotTell) continue;
        ++told;
        EXPECT_EQ(reading.line_case, which) << outline::InCase(text, which) << " at " << size;
      }
    }
  }
  // Narrow lettering in thin strokes leaves the general faces little to agree with.
  const bool narrow = std::string(GetParam().name) == "OspDin";
  EXPECT_GE(told, narrow ? 9 : 14) << "of 18";
}

// A set whose line has a small linking word must not accuse a worn item of a capital one.
TEST_P(ReadsFont, LinkingWordsKeepTheGivenCaseUnlessTheySpeakClearly) {
  const std::string text = "Made in Valdore";
  const auto reading = ReadCase(BandOf(*font_, text, 1), text);
  EXPECT_TRUE(reading.line_case == LineCase::kMixed || reading.line_case == LineCase::kCannotTell);
}

TEST_P(ReadsFont, OtherWordsAreNotReadAsTheLine) {
  for (const auto which : {LineCase::kCapitals, LineCase::kTitle, LineCase::kSmall}) {
    const auto band = BandOf(*font_, outline::InCase("PARIS NOUVAL", which), 1);
    EXPECT_EQ(ReadCase(band, "HAND STITCHED").line_case, LineCase::kCannotTell);
  }
}

INSTANTIATE_TEST_SUITE_P(Debian, ReadsFont, testing::ValuesIn(typeset::kFonts),
                         [](const auto& font) { return std::string(font.param.name); });

TEST(LineReading, NothingIsReadFromNothing) {
  EXPECT_EQ(ReadCase({}, "MADE IN VALDORE").line_case, LineCase::kCannotTell);
  LineBand bare;
  bare.coverage = cv::Mat::zeros(124, 800, CV_32F);
  bare.baseline = 80;
  EXPECT_EQ(ReadCase(bare, "MADE IN VALDORE").line_case, LineCase::kCannotTell);
  EXPECT_EQ(ReadCase(bare, "").line_case, LineCase::kCannotTell);
  EXPECT_EQ(ReadCase(bare, "1897").line_case, LineCase::kCannotTell);
}

}  // namespace
}  // namespace debossier::reading
