// A set held against itself. The items are drawn from the model that the statistics state (normal
// spread of the kind's usual size, normal error of each photo), so that the stated rates must hold.
#include <gtest/gtest.h>

#include <algorithm>

#include "compare/check_set.h"
#include "compare/drawn_sets.h"

namespace debossier::compare {
namespace {

using CheckSetTest = DrawnSets;

TEST_F(CheckSetTest, SoundSetsAreFlaggedNoMoreOftenThanStated) {
  constexpr int kSets = 300;
  constexpr double kRate = 0.05;
  int items = 0;
  int dies = 0;
  for (unsigned seed = 0; seed < kSets; ++seed) {
    const auto check = CheckSet(Drawn(5, seed), kRate);
    ASSERT_TRUE(check);
    items += std::any_of(check->items.begin(), check->items.end(),
                         [](const ItemCheck& i) { return !i.belongs; });
    dies += check->division.two_dies;
  }
  // 15 expected of 300; 27 is the 99.8th percentile of the binomial distribution.
  EXPECT_LE(items, 27);
  EXPECT_LE(dies, 27);
}

TEST_F(CheckSetTest, NamesTheItemThatDoesNotBelong) {
  int named = 0;
  for (unsigned seed = 0; seed < 20; ++seed) {
    auto set = Drawn(6, 1000 + seed);
    Move(set.items[3], "mark gap mark", 0.06);
    const auto check = CheckSet(set);
    ASSERT_TRUE(check);
    for (const auto& item : check->items) {
      EXPECT_TRUE(item.belongs || item.item == "item4") << item.item << ", seed " << seed;
    }
    const ItemCheck& odd = check->items[3];
    if (odd.belongs) continue;
    ++named;
    EXPECT_EQ(odd.reasons[0].measure, "mark gap");
    EXPECT_NEAR(odd.reasons[0].effect, 6, 2.5);
    EXPECT_EQ(odd.largest_label, "gap to the mark ®");
    EXPECT_FALSE(check->is_consistent());
  }
  EXPECT_GE(named, 18);
}

TEST_F(CheckSetTest, FindsTwoDies) {
  int found = 0;
  for (unsigned seed = 0; seed < 10; ++seed) {
    auto set = Drawn(6, 2000 + seed);
    for (const std::size_t i : {1U, 2U, 5U}) {
      Move(set.items[i], "mark gap mark", 0.06);
      Move(set.items[i], "line height origin", 0.02);
      Move(set.items[i], "gap wordmark.0 wordmark.1", 0.03);
    }
    const auto check = CheckSet(set);
    ASSERT_TRUE(check);
    ASSERT_TRUE(check->division.tried);
    if (!check->division.two_dies) continue;
    ++found;
    EXPECT_EQ(check->division.first, (std::vector<std::string>{"item1", "item4", "item5"}));
    EXPECT_EQ(check->division.second, (std::vector<std::string>{"item2", "item3", "item6"}));
    ASSERT_FALSE(check->division.separations.empty());
    EXPECT_NEAR(check->division.separations[0].difference, 0.06, 0.05);
  }
  EXPECT_GE(found, 9);
}

TEST_F(CheckSetTest, ManyItemsAreDividedToo) {
  auto set = Drawn(15, 7);
  for (std::size_t i = 0; i < set.items.size(); i += 3) {
    Move(set.items[i], "mark gap mark", 0.05);
    Move(set.items[i], "line height origin", 0.02);
    Move(set.items[i], "mark size mark", 0.03);
  }
  const auto check = CheckSet(set);
  ASSERT_TRUE(check);
  EXPECT_TRUE(check->division.two_dies) << check->division.p;
  const auto& d = check->division;
  EXPECT_EQ(std::min(d.first.size(), d.second.size()), 5U);
}

TEST_F(CheckSetTest, FewItemsSayWhatTheyCannot) {
  for (const std::size_t count : {0U, 1U, 2U, 3U}) {
    const auto check = CheckSet(Drawn(count, 3));
    ASSERT_TRUE(check);
    EXPECT_EQ(check->items.size(), count < 3 ? 0U : 3U);
    EXPECT_FALSE(check->division.tried);
    EXPECT_FALSE(check->needs.empty());
    EXPECT_TRUE(check->is_consistent());
    EXPECT_EQ(check->reach.empty(), count == 0);
  }
}

TEST_F(CheckSetTest, PoorPhotosReachLess) {
  const auto check = CheckSet(demo_);
  ASSERT_TRUE(check);
  ASSERT_GT(check->reach.size(), 8U);
  for (const auto& r : check->reach) {
    EXPECT_GT(r.good, 0) << r.measure;
    // Degrees of freedom sink a little with a smaller uncertainty.
    EXPECT_LE(r.good, 1.001 * r.usual) << r.measure;
    EXPECT_LT(r.usual, r.poor) << r.measure;
    EXPECT_GE(r.worst, r.usual) << r.measure;
  }
}

TEST_F(CheckSetTest, RateOutOfRangeIsRefused) {
  EXPECT_EQ(CheckSet(demo_, 0).error().code, ErrorCode::kUsage);
  EXPECT_EQ(CheckSet(demo_, 0.5).error().code, ErrorCode::kUsage);
}

}  // namespace
}  // namespace debossier::compare
