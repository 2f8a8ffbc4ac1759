// A text that is not what is stamped makes no set, and is not measured; the right one does.
#include <gtest/gtest.h>

#include "accuracy/dies.h"
#include "refset/create.h"
#include "simulate/simulate.h"
#include "trace/check_letters.h"

namespace debossier::accuracy {
namespace {

std::vector<image::Photo> PhotosOf(const DiePlan& plan) {
  std::vector<image::Photo> photos;
  std::vector<simulate::Departure> none;
  const auto die = MakeDie(plan, none);
  if (!die) return photos;
  for (std::uint64_t seed = 21; seed < 24; ++seed) {
    auto options = simulate::DrawOptions(simulate::Level::kTypical, seed);
    options->amounts.cap_height_px = 100;
    auto bytes = simulate::EncodeSimulated(*simulate::Simulate(*die, *options));
    photos.push_back(*image::PhotoFromBytes(std::move(*bytes), "shot.jpg"));
  }
  return photos;
}

Result<refset::Created> Create(const std::vector<image::Photo>& photos, const DiePlan& plan,
                               const std::string& wordmark, const std::string& origin,
                               bool allow_doubtful) {
  reading::TextSpec text;
  text.lines = {{"wordmark", wordmark}, {"origin", origin}};
  text.mark = plan.mark;
  refset::CreateOptions create;
  create.id = "trial";
  create.allow_doubtful = allow_doubtful;
  return refset::CreateFromPhotos(photos, text, create);
}

class WrongText : public testing::TestWithParam<int> {};

TEST_P(WrongText, MakesNoSet) {
  const DiePlan& plan = DiePlans()[static_cast<std::size_t>(GetParam())];
  const auto photos = PhotosOf(plan);
  if (photos.empty()) GTEST_SKIP() << "install the accuracy program's fonts";
  const std::string word = plan.wordmark;
  const std::string origin = plan.origin;
  const auto right = Create(photos, plan, word, origin, false);
  EXPECT_TRUE(right) << right.error().ToString();
  const std::vector<std::pair<std::string, std::string>> wrong = {
      {"ORBALINE", "PARIS NOUVAL"},                                       // another lettering
      {word.substr(0, 3) + word.substr(4), origin},                       // a letter missing
      {word.substr(0, 3) + "M" + word.substr(3), origin},                 // a letter too many
      {word.substr(0, 2) + "X" + word.substr(3), origin},                 // another letter
      {word.substr(0, 3) + word[4] + word[3] + word.substr(5), origin}};  // two in the wrong order
  for (const auto& [first, second] : wrong) {
    const auto refused = Create(photos, plan, first, second, false);
    EXPECT_FALSE(refused) << first << " was made from photos of " << word;
    if (!refused) {
      EXPECT_FALSE(refused.error().hint.empty());
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Dies, WrongText, testing::Values(0, 13));

TEST(DoubtfulLetters, AreNamedWhereTheyAreAllowed) {
  const DiePlan& plan = DiePlans()[0];
  const auto photos = PhotosOf(plan);
  if (photos.empty()) GTEST_SKIP() << "install the accuracy program's fonts";
  const auto made = Create(photos, plan, "MARWIXGE", plan.origin, true);
  ASSERT_TRUE(made) << made.error().ToString();
  ASSERT_FALSE(made->warnings.empty());
  EXPECT_NE(made->warnings.front().message.find("character 6 of \"MARWIXGE\" (X) looks like"),
            std::string::npos)
      << made->warnings.front().message;
}

}  // namespace
}  // namespace debossier::accuracy
