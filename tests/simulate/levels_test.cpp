#include "simulate/levels.h"

#include <gtest/gtest.h>

#include <cmath>
#include <set>

namespace debossier::simulate {
namespace {

TEST(Levels, TableHoldsEveryAmountOnce) {
  std::set<std::string> names;
  for (const AmountRow& row : AmountTable()) {
    EXPECT_TRUE(names.insert(row.name).second) << row.name;
    EXPECT_NE(std::string(row.meaning), "") << row.name;
    for (const Range& range : {row.clean, row.typical, row.hard}) {
      EXPECT_LE(range.low, range.high) << row.name;
    }
  }
  EXPECT_EQ(AmountTable().size() * sizeof(double), sizeof(Amounts));
}

TEST(Levels, DrawsStayInTheirRanges) {
  for (const Level level : {Level::kClean, Level::kTypical, Level::kHard}) {
    for (std::uint64_t seed = 0; seed < 50; ++seed) {
      const Amounts amounts = DrawAmounts(level, Random(seed));
      for (const AmountRow& row : AmountTable()) {
        EXPECT_GE(amounts.*row.member, row.For(level).low) << row.name;
        EXPECT_LE(amounts.*row.member, row.For(level).high) << row.name;
        if (row.whole) {
          EXPECT_EQ(amounts.*row.member, std::round(amounts.*row.member));
        }
      }
    }
  }
}

// The bounds the levels promise in words.
TEST(Levels, KeepTheirPromises) {
  for (const AmountRow& row : AmountTable()) {
    const std::string name = row.name;
    if (name == "wear") {
      EXPECT_EQ(row.clean.high, 0);
      EXPECT_LE(row.typical.high, 0.10);
      EXPECT_GE(row.hard.low, 0.10);
      EXPECT_LE(row.hard.high, 0.35);
    }
    if (name == "tilt_deg") {
      EXPECT_LE(row.typical.high, 10);
      EXPECT_LE(row.hard.high, 20);
    }
    if (name == "jpeg_quality") {
      EXPECT_GE(row.typical.low, 85);
      EXPECT_LE(row.typical.high, 95);
    }
  }
}

TEST(Levels, AmountsAreSetByName) {
  Amounts amounts;
  EXPECT_TRUE(SetAmount(amounts, "wear", 0.2));
  EXPECT_EQ(amounts.wear, 0.2);
  EXPECT_FALSE(SetAmount(amounts, "wear", std::nan("")));
  EXPECT_FALSE(SetAmount(amounts, "wear", 1e9));
  EXPECT_FALSE(SetAmount(amounts, "weather", 1));
  EXPECT_FALSE(LevelNamed("easy"));
}

}  // namespace
}  // namespace debossier::simulate
