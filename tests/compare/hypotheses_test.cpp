#include "compare/hypotheses.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "compare/drawn_poses.h"
#include "compare/statistics.h"

namespace debossier::compare {
namespace {

struct Told {
  const Hypothesis* first = nullptr;
  Hypotheses all;
};

/// A photo without noise in which one sentence is true with `amplitude`, against six items.
Told Tell(const Sentence& sentence, const Subject& subject, const outline::Lettering& lettering,
          double amplitude) {
  PoseDrawer drawer(lettering, 4);
  const SetModel set = LearnSet(drawer.Set(6, 0.001));
  PhotoPoses photo;
  const BlockColumn column = ColumnOf(sentence.rows, set.frame, subject);
  for (std::size_t j = 0; j < lettering.elements.size(); ++j) {
    measure::Pose pose;
    pose.value = set.elements[j].mean + amplitude * column[j];
    pose.covariance = 1e-6 * PoseMatrix::Identity();
    photo.elements.emplace_back(pose);
  }
  Told told;
  told.all = TestHypotheses(set, photo, 0.005);
  for (const Hypothesis& h : told.all.all) {
    if (h.rank == 1) told.first = &h;
  }
  return told;
}

// Every row of the table, on every subject: what it says is what was done.
TEST(Sentences, EachIsReadWithItsAmplitude) {
  const auto lettering = BoxLettering(7, 9);
  const PoseFrame frame = FrameOf(lettering);
  for (const Sentence& sentence : Sentences()) {
    for (const Subject& subject : SubjectsOf(sentence.scope, frame)) {
      const bool size = std::string(sentence.unit) == "ratio";
      // How far apart lines stand follows the heights of letters, which pressing changes.
      const bool weak = size || std::string(sentence.key) == "line-higher";
      for (const double sign : {-1.0, 1.0}) {
        const double amplitude = sign * (weak ? 0.08 : 0.03);
        const Told told = Tell(sentence, subject, lettering, amplitude);
        ASSERT_NE(told.first, nullptr) << sentence.key << " " << subject.element;
        for (const Hypothesis& h : told.all.all) {
          if (h.sentence != &sentence || h.subject.element != subject.element ||
              h.subject.line_idx != subject.line_idx) {
            continue;
          }
          EXPECT_NEAR(h.amplitude, amplitude, 0.1 * std::abs(amplitude)) << sentence.key;
          EXPECT_GT(sign * h.z, h.level) << sentence.key << " " << subject.element;
        }
        // A letter at a free end of its line that stands off is a wider pair.
        const bool end = subject.element == 0 || subject.element == 7 || subject.element == 15;
        const bool pair = end && std::string(sentence.key) == "letter-further-along";
        EXPECT_EQ(std::string(told.first->sentence->measure), pair ? "gap" : sentence.measure)
            << sentence.key << " " << subject.element << " told as " << told.first->sentence->key;
      }
    }
  }
}

TEST(Sentences, NothingIsSaidOfTheMeanItself) {
  const auto lettering = BoxLettering(7, 9);
  const PoseFrame frame = FrameOf(lettering);
  const auto& sentence = Sentences().front();
  const Told told = Tell(sentence, SubjectsOf(sentence.scope, frame).front(), lettering, 0);
  EXPECT_EQ(told.first, nullptr);
  for (const Hypothesis& h : told.all.all) EXPECT_LT(std::abs(h.z), 0.5) << h.sentence->key;
}

// One z is one; the same z twice is one; two that have nothing in common are two.
TEST(Hypotheses, IndependentCountOfKnownCorrelations) {
  const Eigen::VectorXd a = Eigen::Vector2d(1, 0);
  const Eigen::VectorXd b = Eigen::Vector2d(0, 1);
  EXPECT_DOUBLE_EQ(IndependentCount({a}, 3), 1);
  EXPECT_NEAR(IndependentCount({a, a}, 3), 1, 1e-12);
  EXPECT_NEAR(IndependentCount({a, b}, 3), 2, 0.03);
}

// Against the bivariate normal distribution at correlation 1/2: P(|X| > 2 or |Y| > 2) by numerical
// integration over x of the conditional normal.
TEST(Hypotheses, IndependentCountOfTwoThatAreCorrelated) {
  const double level = 2;
  const double tail = 2 * NormalUpperP(level);
  const double r = 0.5;
  const double s = std::sqrt(1 - r * r);
  double both = 0;
  constexpr int kSteps = 4000;
  for (int i = 0; i < kSteps; ++i) {
    const double x = level + 6.0 * (i + 0.5) / kSteps;
    const double density = std::exp(-x * x / 2) / std::sqrt(2 * M_PI) * 6.0 / kSteps;
    both += 2 * density * (NormalUpperP((level - r * x) / s) + NormalUpperP((level + r * x) / s));
  }
  const double expected = (2 * tail - both) / tail;
  const Eigen::VectorXd a = Eigen::Vector2d(1, 0);
  const Eigen::VectorXd b = Eigen::Vector2d(r, s);
  EXPECT_NEAR(IndependentCount({a, b}, level), expected, 0.05);
}

struct Case {
  int items, letters, later;
  double item_u, photo_u;
};

class DrawnFromTheModel : public ::testing::TestWithParam<Case> {};

// Sentences of lines, whose p is stated: how many photos drawn from the model go beyond the level
// of their share, against the binomial distribution of that many photos.
TEST_P(DrawnFromTheModel, FlagsAtTheStatedRate) {
  const Case& c = GetParam();
  constexpr double kRate = 0.2;
  // One photo a set: photos of one set share its means, and their count is no binomial one.
  constexpr int kPhotos = 600;
  const auto lettering = BoxLettering(c.letters, c.later);
  PoseDrawer drawer(lettering, 11);
  int flagged = 0;
  for (int s = 0; s < kPhotos; ++s) {
    drawer.DrawSpreads();
    const auto drawn = drawer.Set(c.items, c.item_u);
    const auto photo = PosesOf(drawn, drawer.Item(c.photo_u));
    const auto told = TestHypotheses(LearnSet(drawn), photo, kRate);
    // The level of a normal z; one or two items widen it further, since goods differ.
    const double level = NormalScore(kRate * BudgetOf(Family::kLines).share / told.independent);
    flagged += std::any_of(told.all.begin(), told.all.end(), [&](const Hypothesis& h) {
      return h.p.has_value() && std::abs(h.z) > level;
    });
  }
  const double expected = kRate * BudgetOf(Family::kLines).share * kPhotos;
  const double deviation = std::sqrt(expected * (1 - expected / kPhotos));
  std::printf("  %2d items, %2d + %2d letters, u %.4f / %.4f: %d flagged, %.1f +- %.1f stated\n",
              c.items, c.letters, c.later, c.item_u, c.photo_u, flagged, expected,
              1.96 * deviation);
  EXPECT_NEAR(flagged, expected, 1.96 * deviation);
}

INSTANTIATE_TEST_SUITE_P(All, DrawnFromTheModel,
                         ::testing::Values(Case{1, 7, 9, 0.001, 0.001}, Case{2, 7, 9, 0.001, 0.001},
                                           Case{3, 7, 9, 0.001, 0.001}, Case{6, 7, 9, 0.001, 0.001},
                                           Case{12, 7, 9, 0.001, 0.001},
                                           Case{6, 4, 0, 0.001, 0.001},
                                           Case{6, 10, 20, 0.001, 0.001},
                                           Case{12, 7, 9, 0.005, 0.0005},
                                           Case{3, 7, 9, 0.0005, 0.005}));

// Goods of a library that stray more than the built-in spread says: a set of one item believes the
// library, and is wider.
TEST(LibrarySpread, IsBelievedBeforeItemsSpeak) {
  const auto lettering = BoxLettering(7, 9);
  PoseDrawer drawer(lettering, 3);
  refset::RefSet one = drawer.Set(1, 0.001);
  const SetModel usual = LearnSet(one);
  one.library_spread.sets = {"other revision 1"};
  one.library_spread.freedom = 10;
  one.library_spread.elements = 3 * UsualElementSpread();
  one.library_spread.effects[NameOf(EffectKind::kStretchAlong)] = 0.01;
  const SetModel wide = LearnSet(one);
  EXPECT_LT((wide.letter_spread - 3 * usual.letter_spread).norm(), 1e-9);
  EXPECT_NEAR(wide.effects[static_cast<std::size_t>(EffectKind::kStretchAlong)], 0.01, 1e-9);
  EXPECT_GT(wide.effect_freedom, usual.effect_freedom);
  const auto photo = PosesOf(one, one.items[0]);
  const auto limits = [&](const SetModel& set) {
    return TestHypotheses(set, photo, 0.005).all[2].limit;
  };
  EXPECT_GT(limits(wide), 1.5 * limits(usual));
}

TEST(LibrarySpread, OfTheDemoLibraryAndBackThroughItsFile) {
  const refset::Library library{DEBOSSIER_SOURCE};
  const auto spread = SpreadOfLibrary(library, "orbenna", true);
  ASSERT_EQ(spread.sets.size(), 1U);
  EXPECT_EQ(spread.sets[0], "kelmare revision 1");
  EXPECT_TRUE(SpreadOfLibrary(library, "orbenna", false).sets.empty())
      << "simulated sets stay apart";
  auto set = refset::LoadSet(library, "orbenna");
  ASSERT_TRUE(set);
  set->library_spread = spread;
  const auto back = refset::ParseSet(refset::SetJson(*set), "test");
  ASSERT_TRUE(back) << back.error().ToString();
  EXPECT_EQ(back->set.library_spread.sets, spread.sets);
  EXPECT_EQ(back->set.library_spread.freedom, spread.freedom);
  EXPECT_LT((back->set.library_spread.elements - spread.elements).norm(), 1e-6);
  EXPECT_EQ(back->set.library_spread.effects.size(), spread.effects.size());
}

}  // namespace
}  // namespace debossier::compare
