// The script that the product is held beside reads an easy photo well: else its figures would say
// nothing. And where both read a photo they agree: a second opinion from OpenCV's alignment.
#include "accuracy/day_script.h"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>

#include "accuracy/dies.h"
#include "base/quantile.h"
#include "compare/compare_photo.h"
#include "image/photo.h"
#include "refset/refset.h"
#include "simulate/simulate.h"
#include "trace/seed.h"

namespace debossier::accuracy {
namespace {

TEST(DayScript, ReadsAnEasyPhotoAsTheProductDoes) {
  const DiePlan& plan = DiePlans()[3];
  if (!std::filesystem::exists(plan.font)) GTEST_SKIP() << "fonts-urw-base35 is not installed";
  std::vector<simulate::Departure> none;
  auto die = MakeDie(plan, none);
  ASSERT_TRUE(die);
  trace::Normalise(*die);
  simulate::Choices choices;
  choices.leather = simulate::Leather::kSmooth;
  choices.finish = simulate::Finish::kWhite;
  auto options = simulate::DrawOptions(simulate::Level::kClean, 3, choices);
  ASSERT_TRUE(options);
  const auto simulated = simulate::Simulate(*die, *options);
  ASSERT_TRUE(simulated);
  auto bytes = simulate::EncodeSimulated(*simulated);
  const auto photo = image::PhotoFromBytes(std::move(*bytes), "easy.jpg");
  ASSERT_TRUE(photo);
  outline::Box box;
  for (const auto& e : simulated->truth.elements) {
    for (const auto& p : e.quad_px) box.Add(p);
  }
  const cv::Rect crop(cvFloor(box.min.x() - 20), cvFloor(box.min.y() - 20),
                      cvCeil(box.width() + 40), cvCeil(box.height() + 40));
  const ScriptReading script = ReadWithScript(photo->bgr, crop, *die, 1);
  ASSERT_TRUE(script.aligned);
  EXPECT_GT(script.overlap, 0.75);
  refset::RefSet set;
  set.id = "die";
  set.lettering = *die;
  const auto compared = compare::ComparePhoto(*photo, set);
  ASSERT_TRUE(compared);
  std::vector<double> apart;
  const auto neighbours = NeighbourGaps(*die);
  for (std::size_t k = 0; k < neighbours.size(); ++k) {
    const auto& left = die->elements[neighbours[k].left].id;
    const auto& right = die->elements[neighbours[k].right].id;
    for (const auto& f : compared->features) {
      const bool same = f.measure == "gap" && f.elements == std::vector<std::string>({left, right});
      if (same && !std::isnan(script.gaps[k])) apart.push_back(std::abs(script.gaps[k] - f.value));
    }
  }
  ASSERT_GT(apart.size(), 8u);
  // Boxes of whole pixels at 60 to a capital, a threshold that grain and foil spread move: 3 %.
  EXPECT_LT(Median(apart), 0.03);
}

TEST(DayScript, NeighboursAndTheMark) {
  outline::Lettering lettering;
  lettering.lines = {{"wordmark", "AB", 0, 1, 0}, {"origin", "C", -1, 0.5, 0}};
  const auto add = [&](const char* id, int line, outline::ElementKind kind, double x) {
    outline::Outline box;
    box.contours.push_back(outline::Rectangle({{x, 0}, {x + 1, 1}}));
    lettering.elements.push_back({id, line, kind, "A", box});
  };
  add("wordmark.0", 0, outline::ElementKind::kLetter, 0);
  add("wordmark.1", 0, outline::ElementKind::kLetter, 1.25);
  add("origin.0", 1, outline::ElementKind::kLetter, 0);
  add("mark", 0, outline::ElementKind::kMark, 2.5);
  const auto gaps = NeighbourGaps(lettering);
  ASSERT_EQ(gaps.size(), 2u);
  EXPECT_DOUBLE_EQ(gaps[0].gap, 0.25);
  EXPECT_EQ(gaps[1].left, 1u);
  EXPECT_DOUBLE_EQ(gaps[1].gap, 0.25);
}

TEST(DayScript, RecognisesCleanText) {
  if (system("command -v tesseract > /dev/null") != 0) GTEST_SKIP() << "tesseract-ocr is missing";
  const DiePlan& plan = DiePlans()[3];
  if (!std::filesystem::exists(plan.font)) GTEST_SKIP() << "fonts-urw-base35 is not installed";
  std::vector<simulate::Departure> none;
  const auto die = MakeDie(plan, none);
  ASSERT_TRUE(die);
  const cv::Mat drawn = TemplateOfLine(*die, 1);
  EXPECT_EQ(RecognisedText(drawn), plan.origin);
}

}  // namespace
}  // namespace debossier::accuracy
