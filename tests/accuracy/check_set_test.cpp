// Sets built from simulated photographs of known dies, held against themselves.
#include "compare/check_set.h"

#include <gtest/gtest.h>

#include <filesystem>

#include "accuracy/trial.h"
#include "image/photo.h"
#include "refset/create.h"

namespace debossier::accuracy {
namespace {

constexpr int kDie = 3;

class SimulatedSets : public ::testing::Test {
 protected:
  void SetUp() override {
    if (!std::filesystem::exists(DiePlans()[kDie].font)) {
      GTEST_SKIP() << "fonts-urw-base35 is not installed";
    }
  }

  /// A photo of the die, or of the die with departures.
  static Result<image::Photo> Photo(std::vector<simulate::Departure> departures,
                                    std::uint64_t seed) {
    const auto die = MakeDie(DiePlans()[kDie], departures);
    if (!die) return PassOn(die);
    simulate::Choices choices;
    choices.leather = seed % 2 == 0 ? simulate::Leather::kSmooth : simulate::Leather::kPebbled;
    choices.finish = seed % 3 == 0 ? simulate::Finish::kSilver : simulate::Finish::kGold;
    auto options = simulate::DrawOptions(simulate::Level::kTypical, seed, choices);
    if (!options) return PassOn(options);
    options->amounts.cap_height_px = 110;
    const auto simulated = simulate::Simulate(*die, *options);
    if (!simulated) return PassOn(simulated);
    auto bytes = simulate::EncodeSimulated(*simulated);
    if (!bytes) return PassOn(bytes);
    return image::PhotoFromBytes(std::move(*bytes), "simulated.jpg");
  }

  /// A set of six: those items whose bit is set in `other` are of the other die.
  static Result<compare::SetCheck> CheckOf(unsigned other,
                                           const std::vector<simulate::Departure>& departures) {
    std::vector<image::Photo> photos;
    for (unsigned i = 0; i < 6; ++i) {
      const bool is_other = ((other >> i) & 1U) != 0;
      auto photo = Photo(is_other ? departures : std::vector<simulate::Departure>{}, 500 + i);
      if (!photo) return PassOn(photo);
      photos.push_back(std::move(*photo));
    }
    reading::TextSpec text;
    text.lines = {{"wordmark", DiePlans()[kDie].wordmark}, {"origin", DiePlans()[kDie].origin}};
    text.mark = DiePlans()[kDie].mark;
    text.frame = DiePlans()[kDie].frame;
    refset::CreateOptions create;
    create.id = "simulated";
    auto made = refset::CreateFromPhotos(photos, text, create);
    if (!made) return PassOn(made);
    return compare::CheckSet(made->set);
  }
};

TEST_F(SimulatedSets, OneDieIsConsistent) {
  const auto check = CheckOf(0, {});
  ASSERT_TRUE(check) << check.error().ToString();
  for (const auto& item : check->items) {
    EXPECT_TRUE(item.belongs) << item.item << ": " << item.furthest << " "
                              << (item.reasons.empty() ? "" : item.reasons[0].text);
  }
  EXPECT_FALSE(check->division.two_dies) << check->division.strength;
  EXPECT_TRUE(check->is_consistent());
  ASSERT_EQ(check->items.size(), 6U);
}

TEST_F(SimulatedSets, AnItemOfAnotherDieIsNamed) {
  const auto check = CheckOf(1U << 4, {{"mark-gap", "", 0.15}});
  ASSERT_TRUE(check) << check.error().ToString();
  ASSERT_EQ(check->items.size(), 6U);
  EXPECT_FALSE(check->items[4].belongs) << check->items[4].strength;
  EXPECT_EQ(check->items[4].furthest, "mark gap mark ®");
  for (const std::size_t i : {0U, 1U, 2U, 3U, 5U}) {
    EXPECT_TRUE(check->items[i].belongs) << check->items[i].item;
  }
}

TEST_F(SimulatedSets, TwoDiesAreParted) {
  const auto check = CheckOf(0b011010, {{"mark-gap", "", 0.15}, {"line-size", "origin", 0.05}});
  ASSERT_TRUE(check) << check.error().ToString();
  EXPECT_TRUE(check->division.two_dies) << check->division.strength;
  EXPECT_EQ(check->division.first.size(), 3U);
  EXPECT_EQ(check->division.first[0], "item1");
  EXPECT_EQ(check->division.second, (std::vector<std::string>{"item2", "item4", "item5"}));
}

}  // namespace
}  // namespace debossier::accuracy
