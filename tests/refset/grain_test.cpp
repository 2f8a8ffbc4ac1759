// The same piece of leather is known again: on real bindings of known history, where they are
// there.
#include "measure/grain.h"

#include <gtest/gtest.h>

#include "image/photo.h"
#include "trace/consensus.h"

namespace debossier::measure {
namespace {

/// Agreement of each pair of real crops that show one text.
std::vector<GrainAgreement> PairsOf(const std::string& text,
                                    const std::vector<std::string>& crops) {
  std::vector<trace::NamedPhoto> photos;
  for (const auto& crop : crops) {
    auto photo = image::LoadPhoto(std::string(DEBOSSIER_SHARED) + "/real/crops/" + crop + ".png");
    EXPECT_TRUE(photo) << crop;
    if (photo) photos.push_back({crop, photo->bgr});
  }
  reading::TextSpec spec;
  spec.lines = {{"wordmark", text}};
  trace::ConsensusOptions options;
  options.place.free_aspect = true;
  const auto traced = trace::BuildConsensus(photos, spec, options);
  EXPECT_TRUE(traced) << traced.error().ToString();
  std::vector<GrainAgreement> pairs;
  for (std::size_t i = 0; traced && i < photos.size(); ++i) {
    for (std::size_t k = 0; k < i; ++k) {
      pairs.push_back(CompareGrain(GrainOf(traced->lettering, traced->items[i]),
                                   GrainOf(traced->lettering, traced->items[k])));
    }
  }
  return pairs;
}

// ../shared/real/README.md: "the same photograph at two sizes", against one die on four books.
TEST(Grain, OnePhotographAtTwoSizesAgainstFourBooksOfOneDie) {
  if (!std::filesystem::exists(std::string(DEBOSSIER_SHARED) + "/real/crops")) {
    GTEST_SKIP() << "../shared/real is not there";
  }
  const auto same = PairsOf("THE\u00b7TOWER\u00b7OF\u00b7LONDON",
                            {"T_title__tower_65712_vol1", "T_title__tower_68039_vol2"});
  ASSERT_EQ(same.size(), 1u);
  EXPECT_TRUE(same[0].IsSame()) << same[0].share << " of " << same[0].signs;
  const auto others =
      PairsOf("By ARTHUR M. WINFIELD", {"R_author__rover_67285", "R_author__rover_67893",
                                        "R_author__rover_68332", "R_author__rover_69463"});
  ASSERT_EQ(others.size(), 6u);
  for (const auto& pair : others) {
    EXPECT_FALSE(pair.IsSame());
    EXPECT_NEAR(pair.share, 0.5, 0.08) << pair.signs;
    EXPECT_GT(pair.signs, 300);
  }
}

// Coin tosses: their sum is binomial, and what a fair coin hardly gives is not called the same.
TEST(Grain, ChanceIsNotTheSame) {
  const std::string a(400, '+');
  std::string b = a;
  for (std::size_t i = 0; i < 200; ++i) b[2 * i] = '-';
  EXPECT_DOUBLE_EQ(CompareGrain(a, b).share, 0.5);
  EXPECT_EQ(CompareGrain(a, b).signs, 400);
  EXPECT_TRUE(CompareGrain(a, a).IsSame());
  EXPECT_FALSE(CompareGrain("", "").IsSame());
  EXPECT_FALSE(CompareGrain(a, a + "+").IsSame()) << "of another grid";
  EXPECT_FALSE(CompareGrain(std::string(400, '.'), a).IsSame()) << "nothing is seen";
  // Twenty signs that all agree: one in a million by chance, but only twenty.
  EXPECT_FALSE(CompareGrain(a.substr(0, 20), a.substr(0, 20)).IsSame());
}

}  // namespace
}  // namespace debossier::measure
