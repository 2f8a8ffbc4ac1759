#include "outline/line_case.h"

#include <gtest/gtest.h>

namespace debossier::outline {
namespace {

// Which letters are a pair of cases is Unicode's: The Unicode Standard 15, chapter 4.2.
TEST(LineCase, CasesAreByUnicode) {
  EXPECT_EQ(InCase("MADE IN ÎLE-DE-FRANCE", LineCase::kTitle), "Made In Île-De-France");
  EXPECT_EQ(InCase("MADE IN ÎLE-DE-FRANCE", LineCase::kMixed), "Made in Île-de-France");
  EXPECT_EQ(InCase("FABRIQUÉ À Paris", LineCase::kSmall), "fabriqué à paris");
  EXPECT_EQ(InCase("fabriqué à Paris", LineCase::kCapitals), "FABRIQUÉ À PARIS");
}

TEST(LineCase, IsToldFromCharacters) {
  EXPECT_EQ(CaseOfText("HAND STITCHED"), LineCase::kCapitals);
  EXPECT_EQ(CaseOfText("hand stitched"), LineCase::kSmall);
  EXPECT_EQ(CaseOfText("Hand Stitched"), LineCase::kTitle);
  EXPECT_EQ(CaseOfText("Made in Valdore"), LineCase::kMixed);
  EXPECT_EQ(CaseOfText("De Valdore"), LineCase::kTitle) << "the first word keeps its capital";
  EXPECT_EQ(CaseOfText("1897"), LineCase::kCannotTell);
}

}  // namespace
}  // namespace debossier::outline
