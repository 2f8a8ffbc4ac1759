// Text and bytes as other formats want them, against RFC 4648, XML 1.0 and Unicode.
#include <gtest/gtest.h>

#include "base/quantile.h"
#include "base/quantity.h"
#include "base/text_forms.h"
#include "base/unicode.h"

namespace debossier {
namespace {

// RFC 4648, section 10.
TEST(Base64Test, VectorsOfRfc4648) {
  EXPECT_EQ(Base64(""), "");
  EXPECT_EQ(Base64("f"), "Zg==");
  EXPECT_EQ(Base64("fo"), "Zm8=");
  EXPECT_EQ(Base64("foo"), "Zm9v");
  EXPECT_EQ(Base64("foob"), "Zm9vYg==");
  EXPECT_EQ(Base64("fooba"), "Zm9vYmE=");
  EXPECT_EQ(Base64("foobar"), "Zm9vYmFy");
}

// XML 1.0, 2.4: & and < must be escaped, > and quotes where they would end something.
TEST(MarkupTest, EscapesWhatXmlReads) {
  EXPECT_EQ(MarkupText("a<b>&\"c'"), "a&lt;b&gt;&amp;&quot;c&apos;");
  EXPECT_EQ(MarkupText("é 中"), "é 中");
  EXPECT_EQ(MarkupText(""), "");
}

TEST(OneLineTest, KeepsTextAndReplacesTheRest) {
  EXPECT_EQ(OneLine("é 中"), "é 中");
  EXPECT_EQ(OneLine("a\nb\tc"), "a b c");
  EXPECT_EQ(OneLine(std::string("a\0b", 3)), "a\uFFFDb");
  EXPECT_EQ(OneLine("a\xff"), "a\uFFFD");
  EXPECT_EQ(OneLine("a\u202Eb"), "a\uFFFDb") << "an override of the writing direction (UAX 9)";
  EXPECT_EQ(OneLine("abcdef", 3), "abc…");
  EXPECT_EQ(OneLine("abc", 3), "abc");
}

TEST(VisibleTest, LosesNothing) {
  EXPECT_EQ(Visible("a\x1b[1m"), "a\\x1b[1m");
  EXPECT_EQ(Visible("\u202e"), "\\u202e");
  EXPECT_EQ(Visible("a\nb"), "a\\x0ab");
  EXPECT_EQ(Visible("a\nb", Breaks::kKept), "a\nb");
  EXPECT_EQ(Visible("\xc3"), "\\xc3");
}

TEST(UnicodeTest, CasesAndAccents) {
  EXPECT_TRUE(IsCapital("É"));
  EXPECT_TRUE(IsSmallLetter("ß"));
  EXPECT_EQ(OtherCase("é"), "É");
  EXPECT_EQ(OtherCase("中"), "");
  EXPECT_EQ(BaseLetter("Ǖ"), "U");  // U+01D5: U, diaeresis, macron
  EXPECT_TRUE(HasAccent("Å"));
  EXPECT_FALSE(HasAccent("A"));
  EXPECT_FALSE(IsUtf8("\xc0\x80")) << "an overlong zero (RFC 3629, 3)";
}

TEST(QuantileTest, OfAShortList) {
  EXPECT_EQ(Quantile({5, 1, 4, 2, 3}, 0), 1);
  EXPECT_EQ(Quantile({5, 1, 4, 2, 3}, 0.5), 3);
  EXPECT_EQ(Quantile({5, 1, 4, 2, 3}, 1), 5);
}

// GUM 5.1.2: the root of the sum of squares.
TEST(CombineTest, IsTheRootOfTheSumOfSquares) {
  EXPECT_DOUBLE_EQ(Combine(3, 4), 5);
  EXPECT_DOUBLE_EQ(Combine(2, 3, 6), 7);
}

}  // namespace
}  // namespace debossier
