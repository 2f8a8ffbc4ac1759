// A line whose letters were cut in the wrong places gets boxes where its letters are.
#include "trace/cut_again.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "fit/draw_lettering.h"
#include "support/sample_letters.h"

namespace debossier::trace {
namespace {

constexpr double kPx = 100;  // per cap height

/// "MANTEL" as stamped, its letters' boxes, and its picture.
struct Stamped {
  std::vector<outline::Outline> letters;
  fit::Placement map;
  cv::Mat coverage;
};

Stamped Stamp(const std::string& text) {
  Stamped out;
  double x = 0;
  for (const char c : text) {
    const outline::Outline letter = test_support::SampleLetter(c);
    const outline::Box box = outline::Bounds(letter);
    outline::Affine move;
    move.offset = {x - box.min.x(), 0};
    out.letters.push_back(outline::Transformed(letter, move));
    x += box.width() + 0.14;
  }
  out.map.photo_from_stamp << kPx, 0, 150, 0, -kPx, 260, 0, 0, 1;
  out.coverage = cv::Mat::zeros(420, cvRound(kPx * x) + 300, CV_32F);
  for (const auto& letter : out.letters) fit::DrawOutline(letter, {}, 0, out.map, out.coverage);
  cv::GaussianBlur(out.coverage, out.coverage, cv::Size(), 2);
  return out;
}

/// The lettering as `text`, the given outlines by the place of their letter.
outline::Lettering Read(const std::string& text, const std::vector<outline::Outline>& outlines) {
  outline::Lettering lettering;
  lettering.lines = {{"wordmark", text, 0, 1, 0}};
  for (std::size_t i = 0; i < text.size(); ++i) {
    lettering.elements.push_back({"wordmark." + std::to_string(i), 0, outline::ElementKind::kLetter,
                                  text.substr(i, 1), outlines[i]});
  }
  return lettering;
}

outline::Outline BoxOutline(const outline::Point& min, const outline::Point& max) {
  return {{outline::Rectangle({min, max})}};
}

TEST(CutAgain, FindsTheLettersOfAMiscutLine) {
  const Stamped stamped = Stamp("MANTEL");
  outline::Lettering lettering = Read("MANTEL", stamped.letters);
  EXPECT_TRUE(PutBoxesToCutBy(stamped.coverage, stamped.map, lettering).empty());  // no doubt
  // A part of the A, and the rest of it with the N.
  const outline::Box a = outline::Bounds(stamped.letters[1]);
  const outline::Box n = outline::Bounds(stamped.letters[2]);
  const double cut = a.min.x() + 0.3 * a.width();
  lettering.elements[1].outline = BoxOutline(a.min, {cut, a.max.y()});
  lettering.elements[2].outline = BoxOutline({cut, n.min.y()}, n.max);
  const outline::Lettering miscut = lettering;
  EXPECT_EQ(PutBoxesToCutBy(stamped.coverage, stamped.map, lettering), std::set<int>{0});
  for (std::size_t i = 0; i < stamped.letters.size(); ++i) {
    const double truth = outline::Bounds(stamped.letters[i]).centre().x();
    EXPECT_NEAR(outline::Bounds(lettering.elements[i].outline).centre().x(), truth, 0.1) << i;
  }
  const outline::Lettering right = Read("MANTEL", stamped.letters);
  EXPECT_EQ(BetterCut(miscut, right, {0}), std::set<int>{0});
  EXPECT_TRUE(BetterCut(right, miscut, {0}).empty());
  EXPECT_TRUE(BetterCut(right, right, {0}).empty());
}

TEST(CutAgain, NamesALetterBesideTheLine) {
  const Stamped stamped = Stamp("MANTEL");
  EXPECT_EQ(LetterBeside(stamped.coverage, stamped.map, Read("MANTEL", stamped.letters)), "");
  const auto last = LetterBeside(stamped.coverage, stamped.map, Read("MANTE", stamped.letters));
  EXPECT_EQ(last, "after \"MANTE\" stands what looks like another letter");
  const std::vector<outline::Outline> rest(stamped.letters.begin() + 1, stamped.letters.end());
  const auto first = LetterBeside(stamped.coverage, stamped.map, Read("ANTEL", rest));
  EXPECT_EQ(first, "before \"ANTEL\" stands what looks like another letter");
}

TEST(CutAgain, LeavesALineOfAnotherText) {
  const Stamped stamped = Stamp("MANTEL");
  auto letters = stamped.letters;
  letters.erase(letters.begin() + 5);
  letters[1] = BoxOutline({0.9, 0}, {1.0, 1});  // in doubt
  for (const char* text : {"MANTE", "MATEL"}) {
    auto outlines = letters;
    outlines.resize(std::string(text).size(), stamped.letters[5]);
    outline::Lettering lettering = Read(text, outlines);
    EXPECT_TRUE(PutBoxesToCutBy(stamped.coverage, stamped.map, lettering).empty()) << text;
  }
}

}  // namespace
}  // namespace debossier::trace
