// The main job on real stamped lettering with known truth (see tests/support/real_stamps.h).
#include "support/real_stamps.h"

#include <gtest/gtest.h>

#include <cstdio>

namespace debossier::test {
namespace {

class RealStamps : public ::testing::Test {
 protected:
  void SetUp() override {
    if (!HasRealStamps()) GTEST_SKIP() << "no real stamps: ../shared/real is absent";
  }

  static Result<compare::Comparison> Compare(const std::string& name, const refset::RefSet& set) {
    auto c = compare::ComparePhoto(LoadReal(name), set);
    if (c) {
      std::printf("  %-46s %-20s largest %5.1f %%  anisotropy %+.3f  score %.2f\n", name.c_str(),
                  compare::Name(c->finding), LargestDeparture(*c), c->measured.quality.anisotropy,
                  c->score);
    } else {
      std::printf("  %-46s refused: %s\n", name.c_str(), c.error().message.c_str());
    }
    return c;
  }

  static bool Names(const compare::Comparison& c, const std::vector<std::string>& measures) {
    for (const auto& r : c.reasons) {
      for (const auto& m : measures) {
        if (r.measure == m) return true;
      }
    }
    return false;
  }

  static void ExpectAnotherText(const std::string& name, const refset::RefSet& set) {
    const auto c = Compare(name, set);
    if (!c) {
      EXPECT_TRUE(c.error().code == ErrorCode::kLetteringNotFound ||
                  c.error().code == ErrorCode::kNoStamp)
          << c.error().ToString();
      return;
    }
    EXPECT_EQ(c->finding, compare::Finding::kDeparts) << c->summary;
    EXPECT_TRUE(Names(*c, {"text", "letterform"})) << c->summary;
  }
};

// One die on four books (the folder's README, R_author).
TEST_F(RealStamps, OneDieOnFourBooksNeverDeparts) {
  const std::vector<std::string> books = {"R_author__rover_67285", "R_author__rover_67893",
                                          "R_author__rover_68332", "R_author__rover_69463"};
  for (std::size_t questioned = 0; questioned < books.size(); ++questioned) {
    std::vector<std::string> verified = books;
    verified.erase(verified.begin() + static_cast<std::ptrdiff_t>(questioned));
    const auto set = SetFrom(verified, {"By ARTHUR M.WINFIELD"});
    const auto c = Compare("crops/" + books[questioned] + ".png", set);
    ASSERT_TRUE(c) << c.error().ToString();
    EXPECT_TRUE(AllSeen(*c)) << books[questioned];
    EXPECT_NE(c->finding, compare::Finding::kDeparts) << c->summary;
  }
}

// One lettering on three books; the same words re-cut on a fourth.
TEST_F(RealStamps, RecutTitleDepartsAndTheThirdDoesNot) {
  const std::vector<std::string> books = {"R_title__rover_67893", "R_title__rover_68332",
                                          "R_title__rover_69463"};
  for (std::size_t questioned = 0; questioned < books.size(); ++questioned) {
    std::vector<std::string> verified = books;
    verified.erase(verified.begin() + static_cast<std::ptrdiff_t>(questioned));
    const auto set = SetFrom(verified, {"THE·ROVER·BOYS"});
    const auto same = Compare("crops/" + books[questioned] + ".png", set);
    ASSERT_TRUE(same) << same.error().ToString();
    EXPECT_NE(same->finding, compare::Finding::kDeparts) << same->summary;
    const auto recut = Compare("crops/R_title__rover_67285.png", set);
    ASSERT_TRUE(recut) << recut.error().ToString();
    EXPECT_EQ(recut->finding, compare::Finding::kDeparts);
    // Its R, O and V stand a tenth to a fifth of the cap height further left, alone or by a gap.
    EXPECT_TRUE(Names(*recut, {"letterform", "letter size", "gap", "letter place along"}))
        << recut->summary;
  }
}

TEST_F(RealStamps, OutlinedItalicOnTwoBooks) {
  const std::vector<std::string> books = {"C_author__radioboysC_62769",
                                          "C_author__radioboysC_62904"};
  for (int k = 0; k < 2; ++k) {
    const auto set = SetFrom({books[k]}, {"ALLEN CHAPMAN"});
    const auto c = Compare("crops/" + books[1 - k] + ".png", set);
    ASSERT_TRUE(c) << c.error().ToString();
    EXPECT_TRUE(AllSeen(*c));
    EXPECT_NE(c->finding, compare::Finding::kDeparts) << c->summary;
  }
}

// Gilt on leatherette and on ribbed cloth, probably one die: placed, or refused; no sure departure.
TEST_F(RealStamps, HardGiltIsPlacedOrRefused) {
  const std::vector<std::string> books = {"D_title__radioboysD_62000_gilt_leatherette",
                                          "D_title__radioboysD_62110_gilt_ribbed"};
  for (int k = 0; k < 2; ++k) {
    const auto set = SetFrom({books[k]}, {"RADIO BOYS"});
    const auto c = Compare("crops/" + books[1 - k] + ".png", set);
    if (!c) {
      EXPECT_FALSE(c.error().hint.empty());
      continue;
    }
    EXPECT_NE(c->finding, compare::Finding::kDeparts) << c->summary;
  }
}

// One photograph published at two sizes: nothing may depart.
TEST_F(RealStamps, OnePictureAtTwoSizes) {
  const auto set = SetFrom({"T_title__tower_68039_vol2"}, {"THE·TOWER·OF·LONDON"});
  const auto c = Compare("crops/T_title__tower_65712_vol1.png", set);
  ASSERT_TRUE(c) << c.error().ToString();
  EXPECT_NE(c->finding, compare::Finding::kDeparts) << c->summary;
  for (const auto& f : c->features) {
    if (f.measure != "gap" && f.measure != "letter height") continue;
    EXPECT_NEAR(f.value, f.expected, 0.005) << f.label;
  }
}

TEST_F(RealStamps, RedrawnTitleDepartsOrIsRefused) {
  const auto set =
      SetFrom({"C_title__radioboysC_62769"}, {"THE RADIO BOYS", "with the", "FOREST RANGERS"});
  ExpectAnotherText("crops/C_title__radioboysC_62904.png", set);
}

TEST_F(RealStamps, AnyOtherWordDepartsOrIsRefused) {
  const auto author =
      SetFrom({"R_author__rover_69463", "R_author__rover_68332"}, {"By ARTHUR M.WINFIELD"});
  const auto title = SetFrom({"R_title__rover_69463", "R_title__rover_68332"}, {"THE·ROVER·BOYS"});
  const auto radio = SetFrom({"D_title__radioboysD_62000_gilt_leatherette"}, {"RADIO BOYS"});
  for (const char* name :
       {"crops/R_title__rover_67893.png", "crops/C_author__radioboysC_62769.png",
        "crops/T_title__tower_65712_vol1.png", "crops/P_title__chinesepottery_67970.png",
        "covers/bierce_66490_vol9_leather.jpg"}) {
    ExpectAnotherText(name, author);
  }
  for (const char* name :
       {"crops/R_author__rover_67893.png", "crops/C_author__radioboysC_62769.png",
        "crops/T_title__tower_65712_vol1.png", "crops/P_title__chinesepottery_67970.png",
        "covers/bierce_66490_vol9_leather.jpg"}) {
    ExpectAnotherText(name, title);
  }
  for (const char* name :
       {"crops/R_author__rover_67893.png", "crops/R_title__rover_67893.png",
        "crops/C_author__radioboysC_62769.png", "crops/T_title__tower_65712_vol1.png",
        "crops/P_title__chinesepottery_67970.png"}) {
    ExpectAnotherText(name, radio);
  }
}

// The stamp is found in the whole picture, without a crop, where the crop was cut from.
TEST_F(RealStamps, FoundOnWholeCovers) {
  const auto author =
      SetFrom({"R_author__rover_67893", "R_author__rover_68332"}, {"By ARTHUR M.WINFIELD"});
  const auto title = SetFrom({"R_title__rover_67893", "R_title__rover_68332"}, {"THE·ROVER·BOYS"});
  const auto radio = SetFrom({"D_title__radioboysD_62000_gilt_leatherette"}, {"RADIO BOYS"});
  for (const char* cover : {"covers/rover_67285.jpg", "covers/rover_69463.jpg"}) {
    const auto c = Compare(cover, author);
    ASSERT_TRUE(c) << c.error().ToString();
    EXPECT_TRUE(AllSeen(*c));
    EXPECT_NE(c->finding, compare::Finding::kDeparts) << c->summary;
    // The author's line stands in the lowest sixth of these covers.
    EXPECT_GT(c->measured.elements[0].quad_px[0].y(), 0.85 * c->photo.height);
  }
  const auto same = Compare("covers/rover_69463.jpg", title);
  ASSERT_TRUE(same) << same.error().ToString();
  EXPECT_NE(same->finding, compare::Finding::kDeparts);
  EXPECT_LT(same->measured.elements[0].quad_px[0].y(), 0.2 * same->photo.height);
  const auto gilt = Compare("covers/radioboysD_62000_gilt_leatherette.jpg", radio);
  ASSERT_TRUE(gilt) << gilt.error().ToString();
  EXPECT_NE(gilt->finding, compare::Finding::kDeparts);
  EXPECT_TRUE(AllSeen(*gilt));
}

}  // namespace
}  // namespace debossier::test
