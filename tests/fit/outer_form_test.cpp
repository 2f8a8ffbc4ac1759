// Of a mark what bounds it counts, whatever was traced inside.
#include "fit/outer_form.h"

#include <gtest/gtest.h>

#include <cmath>

namespace debossier::fit {
namespace {

using outline::Point;

outline::Element Mark(const char* character, outline::Outline outline) {
  return {"mark", 0, outline::ElementKind::kMark, character, std::move(outline)};
}

outline::Outline Ring(double radius, double stroke) {
  outline::Outline ring;
  ring.contours.push_back(outline::Ellipse({2, 0.8}, radius, radius));
  ring.contours.push_back(
      outline::Reversed(outline::Ellipse({2, 0.8}, radius - stroke, radius - stroke)));
  return ring;
}

TEST(OuterForm, OfACircledSignIsItsCircle) {
  outline::Outline traced = Ring(0.16, 0.03);
  traced.contours.push_back(outline::Rectangle({{1.95, 0.72}, {2.03, 0.86}}));  // a blob
  for (const char* sign : {"®", "©"}) {
    const outline::Outline form = OuterForm(Mark(sign, traced));
    ASSERT_EQ(form.contours.size(), 1u);
    // Area of a circle; four cubics stay within 3e-4 of its radius.
    EXPECT_NEAR(outline::SignedArea(form), 3.14159265 * 0.16 * 0.16, 1e-4);
  }
}

TEST(OuterForm, OfAnotherMarkIsWithoutCounters) {
  outline::Outline two = Ring(0.16, 0.03);
  outline::Append(two, outline::Outline{{outline::Rectangle({{2.3, 0.6}, {2.5, 0.9}})}});
  const outline::Outline form = OuterForm(Mark("™", two));
  ASSERT_EQ(form.contours.size(), 2u);
  EXPECT_NEAR(outline::SignedArea(form), 3.14159265 * 0.16 * 0.16 + 0.06, 1e-4);
}

TEST(OuterForm, OfALetterIsItsOutline) {
  outline::Element letter = Mark("O", Ring(0.5, 0.1));
  letter.kind = outline::ElementKind::kLetter;
  EXPECT_EQ(OuterForm(letter).contours.size(), 2u);
}

TEST(OuterForm, ReachIsAboutTheMark) {
  outline::Lettering lettering;
  EXPECT_TRUE(BoxOfReach(lettering).empty());
  lettering.elements.push_back(Mark("®", Ring(0.16, 0.03)));
  const outline::Box reach = BoxOfReach(lettering);
  EXPECT_NEAR(reach.max.x(), 2.16 + MarkReach::kRight, 1e-9);
  EXPECT_NEAR(reach.min.y(), 0.64 - MarkReach::kBeside, 1e-9);
}

}  // namespace
}  // namespace debossier::fit
