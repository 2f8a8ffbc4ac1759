// A set held against itself. Items are drawn from the model that comparisons assume, so that the
// stated rates must hold.
#include "compare/check_set.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "compare/drawn_poses.h"

namespace debossier::compare {
namespace {

class CheckSetTest : public ::testing::Test {
 protected:
  refset::RefSet Drawn(int items, unsigned seed) const {
    return PoseDrawer(lettering_, seed).Set(items, 0.001);
  }
  static void Move(refset::Item& item, const std::string& id, int value, double by) {
    item.poses.at(id).value[value] += by;
  }

  outline::Lettering lettering_ = BoxLettering(7, 9);
};

TEST_F(CheckSetTest, SoundSetsAreFlaggedNoMoreOftenThanStated) {
  constexpr int kSets = 100;
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
  // 5 expected of 100; 12 is the 99.9th percentile of the binomial distribution.
  EXPECT_LE(items, 12);
  EXPECT_LE(dies, 12);
}

TEST_F(CheckSetTest, NamesTheItemThatDoesNotBelong) {
  int named = 0;
  int others = 0;
  for (unsigned seed = 0; seed < 20; ++seed) {
    auto set = Drawn(6, 1000 + seed);
    Move(set.items[3], "mark", measure::kAlong, 0.06);
    const auto check = CheckSet(set);
    ASSERT_TRUE(check);
    for (const auto& item : check->items) {
      others += !item.belongs && item.item != set.items[3].id;
    }
    const ItemCheck& odd = check->items[3];
    if (odd.belongs) continue;
    ++named;
    EXPECT_EQ(odd.reasons[0].measure, "mark gap");
    EXPECT_NEAR(odd.reasons[0].effect, 6, 2.5);
    EXPECT_GT(odd.strength, 1);
    EXPECT_EQ(odd.furthest, "mark gap mark ®");
    EXPECT_FALSE(check->is_consistent());
  }
  EXPECT_GE(named, 18);
  // Levels of single elements were measured on photos, whose tails are lighter than the model's.
  EXPECT_LE(others, 2);
}

TEST_F(CheckSetTest, FindsTwoDies) {
  int found = 0;
  for (unsigned seed = 0; seed < 10; ++seed) {
    auto set = Drawn(6, 2000 + seed);
    for (const std::size_t i : {1U, 2U, 5U}) Move(set.items[i], "mark", measure::kAlong, 0.06);
    const auto check = CheckSet(set);
    ASSERT_TRUE(check);
    ASSERT_TRUE(check->division.tried);
    if (!check->division.two_dies) continue;
    ++found;
    EXPECT_EQ(check->division.first, (std::vector<std::string>{"item1", "item4", "item5"}));
    EXPECT_EQ(check->division.second, (std::vector<std::string>{"item2", "item3", "item6"}));
    ASSERT_FALSE(check->division.separations.empty());
    EXPECT_EQ(check->division.separations[0].measure, "mark gap");
    EXPECT_NEAR(check->division.separations[0].difference, 0.06, 0.02);
  }
  EXPECT_GE(found, 9);
}

TEST_F(CheckSetTest, ManyItemsAreDividedToo) {
  auto set = Drawn(15, 7);
  for (std::size_t i = 0; i < set.items.size(); i += 3) {
    Move(set.items[i], "mark", measure::kAlong, 0.05);
    Move(set.items[i], "wordmark.3", measure::kLogHeight, 0.08);
    Move(set.items[i], "wordmark.3", measure::kLogWidth, 0.08);
  }
  const auto check = CheckSet(set);
  ASSERT_TRUE(check);
  EXPECT_TRUE(check->division.two_dies) << check->division.strength;
  const auto& d = check->division;
  EXPECT_EQ(std::min(d.first.size(), d.second.size()), 5U);
}

TEST_F(CheckSetTest, FewItemsSayWhatTheyCannot) {
  for (const int count : {0, 1, 2, 3}) {
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
  const auto demo = refset::LoadSet({DEBOSSIER_SOURCE}, "orbenna");
  ASSERT_TRUE(demo) << demo.error().ToString();
  const auto check = CheckSet(*demo);
  ASSERT_TRUE(check);
  ASSERT_GT(check->reach.size(), 8U);
  for (const auto& r : check->reach) {
    EXPECT_GT(r.good, 0) << r.measure;
    // What the items themselves stray by is read with the photo's own weights.
    EXPECT_LE(r.good, 1.1 * r.usual) << r.measure;
    EXPECT_LT(r.usual, r.poor) << r.measure;
    EXPECT_GE(r.worst, r.usual) << r.measure;
  }
}

TEST_F(CheckSetTest, RateOutOfRangeIsRefused) {
  const auto set = Drawn(3, 1);
  EXPECT_EQ(CheckSet(set, 0).error().code, ErrorCode::kUsage);
  EXPECT_EQ(CheckSet(set, 0.5).error().code, ErrorCode::kUsage);
}

}  // namespace
}  // namespace debossier::compare
