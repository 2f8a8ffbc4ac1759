#include "simulate/ufo_layout.h"

#include <gtest/gtest.h>

namespace debossier::simulate {
namespace {

using outline::Point;

outline::UfoFont Alphabet() {
  outline::UfoFont font;
  const auto add = [&font](const char* name, char32_t code, double left, double width,
                           double height, double advance) {
    outline::UfoGlyph glyph;
    glyph.name = name;
    glyph.unicodes = {code};
    glyph.advance = advance;
    if (height > 0) {
      glyph.outline.contours = {outline::Rectangle({Point(left, 0), Point(left + width, height)})};
    }
    font.glyphs.push_back(glyph);
  };
  add("H", U'H', 50, 400, 700, 500);
  add("I", U'I', 60, 100, 700, 220);
  add("x", U'x', 20, 300, 490, 340);
  add("space", U' ', 0, 0, 0, 250);
  add("registered", U'\u00ae', 30, 500, 500, 560);
  return font;
}

TEST(UfoLayout, PlacesByAdvanceInCapHeights) {
  const auto die = LayOutUfo(Alphabet(), {{"wordmark", "HI H", 1, 0.1, 0}}, {""}, {});
  ASSERT_TRUE(die);
  ASSERT_EQ(die->elements.size(), 3u);
  EXPECT_EQ(die->elements[2].id, "wordmark.3");
  const auto box = [&die](int k) { return outline::Bounds(die->elements[k].outline); };
  EXPECT_NEAR(box(0).min.x(), 0, 1e-12);
  EXPECT_NEAR(box(0).max.y(), 1, 1e-12);
  // From H's left edge: its advance less its bearing, the tracking, I's bearing.
  EXPECT_NEAR(box(1).min.x(), (500 - 50 + 60) / 700.0 + 0.1, 1e-12);
  EXPECT_NEAR(box(2).min.x(), (500 + 220 + 250) / 700.0 + 0.3, 1e-12);
  EXPECT_NEAR(die->lines[0].x_height, 0.7, 1e-12);
}

TEST(UfoLayout, CentresLinesAndSetsTheMark) {
  typeset::MarkSpec mark;
  mark.character = "\u00ae";
  mark.size = 0.3;
  mark.gap = 0.12;
  mark.rise = 0.65;
  const auto die =
      LayOutUfo(Alphabet(), {{"wordmark", "HHH", 1, 0, 0}, {"origin", "II", 0.5, 0, -1}}, mark, {});
  ASSERT_TRUE(die);
  outline::Box first;
  outline::Box second;
  for (const outline::Element& element : die->elements) {
    if (element.kind == outline::ElementKind::kMark) continue;
    (element.line_idx == 0 ? first : second).Add(outline::Bounds(element.outline));
  }
  EXPECT_NEAR(first.centre().x(), second.centre().x(), 1e-12);
  EXPECT_NEAR(second.height(), 0.5, 1e-12);
  const outline::Box sign = outline::Bounds(die->elements.back().outline);
  EXPECT_NEAR(sign.min.x() - first.max.x(), 0.12, 1e-12);
  EXPECT_NEAR(sign.min.y(), 0.65, 1e-12);
  EXPECT_NEAR(sign.height(), 0.3, 1e-12);
}

TEST(UfoLayout, RefusesWhatTheAlphabetLacks) {
  const auto die = LayOutUfo(Alphabet(), {{"wordmark", "HQ", 1, 0, 0}}, {""}, {});
  ASSERT_FALSE(die);
  EXPECT_EQ(die.error().code, ErrorCode::kTextNotCovered);
  EXPECT_EQ(die.error().where, "Q");
}

}  // namespace
}  // namespace debossier::simulate
