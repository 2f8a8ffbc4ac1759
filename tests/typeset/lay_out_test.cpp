// Letterings laid out from fonts: every distance asked for is the distance set.
#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "typeset/font.h"

namespace debossier::typeset {
namespace {

using outline::Box;
using outline::Element;
using outline::ElementKind;
using outline::Frame;
using outline::FrameKind;
using outline::Lettering;

constexpr const char* kRegistered = "\xC2\xAE";

class LayOutLetters : public ::testing::Test {
 protected:
  void SetUp() override {
    auto sans = Font::Load("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf");
    auto serif = Font::Load("/usr/share/fonts/truetype/dejavu/DejaVuSerif.ttf");
    if (!sans || !serif) GTEST_SKIP() << "needs fonts-dejavu-core";
    sans_.emplace(*std::move(sans));
    serif_.emplace(*std::move(serif));
  }

  static Box InkOf(const Lettering& lettering, int line_idx) {
    Box box;
    for (const Element& element : lettering.elements) {
      if (element.line_idx == line_idx && element.kind == ElementKind::kLetter) {
        box.Add(Bounds(element.outline));
      }
    }
    return box;
  }

  ErrorCode Refusal(const std::vector<LineSpec>& lines, const MarkSpec& mark = {},
                    const Frame& frame = {}) const {
    const auto lettering = LayOut(*sans_, nullptr, lines, mark, frame);
    EXPECT_FALSE(lettering);
    return lettering ? ErrorCode::kInternal : lettering.error().code;
  }

  std::optional<Font> sans_;
  std::optional<Font> serif_;
};

TEST_F(LayOutLetters, PlacesLinesMarkAndFrame) {
  const Frame frame{FrameKind::kEllipse, {3, -1.2}, {3, 0.6}, 0.05, 1};
  const MarkSpec mark{kRegistered, 0.3, 0.12, 0.7};
  const auto lettering =
      LayOut(*sans_, nullptr,
             {{"wordmark", "HENLE", 1, 0.1, 0}, {"origin", "Fait \xC3\xA0 la main", 0.4, 0, -1.5}},
             mark, frame);
  ASSERT_TRUE(lettering) << lettering.error().ToString();
  const Box wordmark = InkOf(*lettering, 0);
  EXPECT_NEAR(wordmark.min.x(), 0, 1e-12);
  EXPECT_NEAR(wordmark.min.y(), 0, 1e-12);
  EXPECT_NEAR(wordmark.max.y(), 1, 1e-12);
  EXPECT_NEAR(InkOf(*lettering, 1).centre().x(), wordmark.centre().x(), 1e-12);

  const Element& sign = lettering->elements.back();
  const Box sign_box = Bounds(sign.outline);
  EXPECT_EQ(sign.id, "mark");
  EXPECT_EQ(sign.kind, ElementKind::kMark);
  EXPECT_EQ(sign.line_idx, 0);
  EXPECT_NEAR(sign_box.height(), 0.3, 1e-12);
  EXPECT_NEAR(sign_box.min.x() - wordmark.max.x(), 0.12, 1e-12);
  EXPECT_NEAR(sign_box.min.y(), 0.7, 1e-12);

  ASSERT_EQ(lettering->elements.size(), 5u + 11u + 1u);
  EXPECT_EQ(lettering->elements[0].id, "wordmark.0");
  EXPECT_EQ(lettering->elements[5].id, "origin.0");
  EXPECT_EQ(lettering->elements[9].id, "origin.5");  // After a space.
  EXPECT_EQ(lettering->elements[9].character, "\xC3\xA0");
  EXPECT_EQ(lettering->frame.line_idx, 1);

  // F of the second line is as tall as its line's capitals and stands on its baseline.
  const Box f = Bounds(lettering->elements[5].outline);
  EXPECT_NEAR(f.min.y(), -1.5, 1e-12);
  EXPECT_NEAR(f.height(), 0.4, 1e-12);
}

TEST_F(LayOutLetters, FillsLineHeightsFromTheFont) {
  const auto lettering =
      LayOut(*sans_, &*serif_, {{"wordmark", "AB"}, {"origin", "CD", 0.5, 0, -1}}, {}, {});
  ASSERT_TRUE(lettering);
  // Whatever the text: neither line has small letters.
  EXPECT_EQ(lettering->lines[0].cap_height, 1);
  EXPECT_NEAR(lettering->lines[0].x_height, sans_->x_height() / sans_->cap_height(), 1e-12);
  EXPECT_EQ(lettering->lines[1].cap_height, 0.5);
  EXPECT_NEAR(lettering->lines[1].x_height, 0.5 * serif_->x_height() / serif_->cap_height(), 1e-12);
  EXPECT_EQ(lettering->lines[1].baseline, -1);
}

TEST_F(LayOutLetters, OriginFontSetsTheLaterLinesOnly) {
  const std::vector<LineSpec> lines{{"wordmark", "I"}, {"origin", "I", 1, 0, -2}};
  const auto lettering = LayOut(*sans_, &*serif_, lines, {}, {});
  ASSERT_TRUE(lettering);
  EXPECT_LT(Bounds(lettering->elements[0].outline).width(), 0.2);  // A stem.
  EXPECT_GT(Bounds(lettering->elements[1].outline).width(), 0.3);  // A stem with serifs.
}

TEST_F(LayOutLetters, IsTheSameEveryTime) {
  const std::vector<LineSpec> lines{{"wordmark", "AVENTO", 1, 0.03, 0}};
  const auto first = LayOut(*sans_, nullptr, lines, {kRegistered}, {});
  const auto second = LayOut(*sans_, nullptr, lines, {kRegistered}, {});
  ASSERT_TRUE(first && second);
  for (std::size_t i = 0; i < first->elements.size(); ++i) {
    EXPECT_EQ(Bounds(first->elements[i].outline).max, Bounds(second->elements[i].outline).max);
  }
}

TEST_F(LayOutLetters, RefusesSpecificationsWithoutAStampFrame) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(Refusal({}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"wordmark", "  "}}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"", "A"}}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"mark", "A"}}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"a", "A"}, {"a", "B", 1, 0, -2}}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"wordmark", "A", 2}}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"wordmark", "A", 1, 0, 0.5}}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"wordmark", "A", nan}}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"wordmark", "A", 1, nan}}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"wordmark", "A"}}, {"AB"}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"wordmark", "A"}}, {kRegistered, 0}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"wordmark", "A"}}, {kRegistered, 0.3, nan}), ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"wordmark", "A"}}, {}, {FrameKind::kEllipse, {0, 0}, {1, 1}, 0.1, 1}),
            ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"wordmark", "A"}}, {}, {FrameKind::kEllipse, {0, 0}, {1, nan}, 0.1, 0}),
            ErrorCode::kUsage);
  EXPECT_EQ(Refusal({{"wordmark", "A"}}, {" "}), ErrorCode::kUsage);
}

TEST_F(LayOutLetters, RefusesAMarkTheFontLacks) {
  EXPECT_EQ(Refusal({{"wordmark", "A"}}, {"\xE5\xAD\x97"}), ErrorCode::kTextNotCovered);
  EXPECT_EQ(Refusal({{"wordmark", "A\xE5\xAD\x97"}}), ErrorCode::kTextNotCovered);
}

}  // namespace
}  // namespace debossier::typeset
