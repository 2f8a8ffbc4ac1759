// Frames, the lettering's box, and characters by the Unicode Standard.
#include "outline/lettering.h"

#include <gtest/gtest.h>

#include <numbers>

namespace debossier::outline {
namespace {

using std::numbers::pi;

TEST(FrameOutline, HasTheAreaOfItsRule) {
  Frame frame{FrameKind::kEllipse, {3, 1}, {4, 1.5}, 0.1, -1};
  // pi (a+h)(b+h) - pi (a-h)(b-h) = pi w (a+b).
  EXPECT_NEAR(SignedArea(FrameOutline(frame)), pi * 0.1 * 5.5, 6e-4 * pi * 0.1 * 5.5);
  frame.kind = FrameKind::kRectangle;
  // (2a+w)(2b+w) - (2a-w)(2b-w) = 4 w (a+b).
  EXPECT_NEAR(SignedArea(FrameOutline(frame)), 4 * 0.1 * 5.5, 1e-12);
  EXPECT_LT(SignedArea(FrameOutline(frame).contours[1]), 0);
  frame.kind = FrameKind::kNone;
  EXPECT_TRUE(FrameOutline(frame).empty());
}

TEST(FrameOutline, IsSolidWhereTheRuleIsThickerThanTheFrame) {
  const Frame frame{FrameKind::kRectangle, {0, 0}, {4, 0.2}, 1, -1};
  EXPECT_EQ(FrameOutline(frame).contours.size(), 1u);
}

TEST(Bounds, OfALetteringTakeInTheFrame) {
  Lettering lettering;
  Element element;
  element.outline.contours.push_back(Rectangle({{0, 0}, {1, 1}}));
  lettering.elements.push_back(element);
  EXPECT_EQ(Bounds(lettering).max, Point(1, 1));
  lettering.frame = {FrameKind::kEllipse, {0.5, 0.5}, {2, 1}, 0.2, -1};
  EXPECT_NEAR(Bounds(lettering).min.x(), 0.5 - 2.1, 1e-12);
  EXPECT_NEAR(Bounds(lettering).max.y(), 0.5 + 1.1, 1e-12);
  EXPECT_TRUE(Bounds(Lettering{}).empty());
}

/// One letter a character: "?" for U+FFFD, "." for anything longer than a byte.
std::string Sketch(const std::string& text) {
  std::string sketch;
  for (const std::string& character : Characters(text)) {
    const bool replaced = character == "\xEF\xBF\xBD";
    sketch += replaced ? '?' : character.size() > 1 ? '.' : character.front();
  }
  return sketch;
}

TEST(Characters, SplitWellFormedText) {
  EXPECT_EQ(Sketch("A\xC3\x89\xE2\x84\xA2\xF0\x9D\x94\xB8 z"), "A... z");
  EXPECT_EQ(Characters("\xC3\x89").front(), "\xC3\x89");
  EXPECT_TRUE(Characters("").empty());
  EXPECT_EQ(Characters(std::string("a\0b", 3)).size(), 3u);
}

TEST(Characters, ReplaceDamageAsTheUnicodeStandardAdvises) {
  // The Unicode Standard, section 3.9, "U+FFFD Substitution of Maximal Subparts", tables for
  // non-shortest forms, surrogates, other ill-formed and truncated sequences (from memory).
  EXPECT_EQ(Sketch("\xC0\xAF\xE0\x80\xBF\xF0\x81\x82\x41"), "????????A");
  EXPECT_EQ(Sketch("\xED\xA0\x80\xED\xBF\xBF\xED\xAF\x41"), "????????A");
  EXPECT_EQ(Sketch("\xF4\x91\x92\x93\xFF\x41\x80\xBF\x42"), "?????A??B");
  EXPECT_EQ(Sketch("\xE1\x80\xE2\xF0\x91\x92\xF1\xBF\x41"), "????A");
}

TEST(Characters, BearTextCutShort) {
  EXPECT_EQ(Sketch("A\xC3"), "A?");
  EXPECT_EQ(Sketch("\xF0\x9D\x94"), "?");
}

}  // namespace
}  // namespace debossier::outline
