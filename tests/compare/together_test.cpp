// Several photos taken together. Means and uncertainties against the closed forms of ISO/IEC Guide
// 98-3:2008 (weighted mean) and Birge, Phys. Rev. 40, 1932 (the ratio); decisions against the rule
// that DEVELOPERS.md states.
#include "compare/together.h"

#include <gtest/gtest.h>

#include <cmath>

#include "compare/statistics.h"
#include "refset/sample_set.h"

namespace debossier::compare {
namespace {

using refset::SmallSet;

const std::vector<std::string> kPair = {"wordmark.0", "wordmark.1"};

/// A photo that shows both letters, and its gap.
Comparison Photo(const refset::RefSet& set, double gap, double u,
                 Finding finding = Finding::kNoDepartureFound) {
  Comparison c;
  c.refset_id = set.id;
  c.reference = set.lettering;
  c.finding = finding;
  c.measured.gaps.push_back({"wordmark.0", "wordmark.1", {gap, u}, {0, 0}});
  c.measured.lines.resize(1);
  c.measured.lines[0].id = "wordmark";
  c.measured.elements.resize(2);
  for (int i = 0; i < 2; ++i) {
    c.measured.elements[i].id = kPair[i];
    c.measured.elements[i].character = i == 0 ? "O" : "I";
  }
  Feature f;
  f.measure = "gap";
  f.elements = kPair;
  c.features = {f};
  return c;
}

TriedSentence Tried(double amplitude, double u, double level, bool departs) {
  TriedSentence s;
  s.key = "pair-wider wordmark.0 wordmark.1";
  s.measure = "gap";
  s.elements = kPair;
  s.label = "gap O–I";
  s.unit = "cap heights";
  s.amplitude = amplitude;
  s.u = u;
  s.z = amplitude / u;
  s.level = level;
  s.limit = (level + 1.2816) * u;
  s.departs = departs;
  s.decidable = true;
  return s;
}

/// A photo of which the gap is said to be wider.
Comparison Accusing(const refset::RefSet& set, double amplitude) {
  Comparison c = Photo(set, 0.22 + amplitude, 0.002, Finding::kDeparts);
  c.features[0].expected = 0.22;
  c.score = amplitude / 0.02;
  c.sentences = {Tried(amplitude, 0.004, 4, true)};
  Reason r;
  r.measure = "gap";
  r.elements = kPair;
  r.value = amplitude;
  r.u = 0.004;
  r.text = "The gap is wider.";
  c.reasons = {r};
  return c;
}

/// A photo that looked for it with this u, and found `amplitude`; its gap by itself says little.
Comparison Quiet(const refset::RefSet& set, double amplitude, double u, double u_gap = 0.2) {
  Comparison c = Photo(set, 0.22 + amplitude, u_gap);
  c.sentences = {Tried(amplitude, u, 4, false)};
  return c;
}

std::vector<NumberedComparison> Numbered(const std::vector<Comparison>& photos) {
  std::vector<NumberedComparison> numbered;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    numbered.push_back({static_cast<int>(i) + 1, &photos[i]});
  }
  return numbered;
}

TEST(Together, ValuesAreWeightedMeansWithWhatTheSetDoesNotKnowOnce) {
  const refset::RefSet set = SmallSet("pair", 3);
  const std::vector<Comparison> one = {Photo(set, 0.220, 0.004)};
  const std::vector<Comparison> two = {Photo(set, 0.220, 0.004), Photo(set, 0.226, 0.008)};
  const Together alone = TakeTogether(set, Numbered(one), 0.005);
  const Together both = TakeTogether(set, Numbered(two), 0.005);
  ASSERT_EQ(both.features.size(), 1u);
  // Weights 4 to 1; u = 1 / sqrt(1/.004^2 + 1/.008^2). The set's share is the same in both.
  EXPECT_NEAR(both.features[0].feature.value, (4 * 0.220 + 0.226) / 5, 1e-12);
  const double shared = std::pow(alone.features[0].feature.u, 2) - std::pow(0.004, 2);
  EXPECT_NEAR(both.features[0].feature.u, std::sqrt(shared + 1 / (62500.0 + 15625.0)), 1e-9);
  EXPECT_LT(both.features[0].feature.u, alone.features[0].feature.u);
  EXPECT_EQ(both.features[0].photos, (std::vector<int>{1, 2}));
  EXPECT_TRUE(both.contradictions.empty());
  EXPECT_EQ(both.finding, Finding::kNoDepartureFound);
}

TEST(Together, PhotosThatDifferWidenTheUncertaintyAndAreNamed) {
  const refset::RefSet set = SmallSet("pair", 3);
  const std::vector<Comparison> photos = {Photo(set, 0.20, 0.003), Photo(set, 0.23, 0.003),
                                          Photo(set, 0.201, 0.003)};
  const Together t = TakeTogether(set, Numbered(photos), 0.005);
  // chi2 of 0.2, 0.23, 0.201 about their mean, over two degrees of freedom.
  const double mean = (0.20 + 0.23 + 0.201) / 3;
  double chi2 = 0;
  for (const double v : {0.20, 0.23, 0.201}) chi2 += std::pow((v - mean) / 0.003, 2);
  const double photo_u = 0.003 / std::sqrt(3.0) * std::sqrt(chi2 / 2);
  EXPECT_GE(t.features[0].feature.u, photo_u - 1e-12);
  ASSERT_EQ(t.contradictions.size(), 1u);
  EXPECT_EQ(t.contradictions[0].photos, (std::vector<int>{1, 2}));
  EXPECT_NE(t.contradictions[0].text.find("photo 1 0.2000 ± 0.0060, photo 2 0.2300 ± 0.0060"),
            std::string::npos)
      << t.contradictions[0].text;
  // Three standard deviations of three pairs are no contradiction at 1 in 200.
  const std::vector<Comparison> near = {Photo(set, 0.20, 0.003), Photo(set, 0.2125, 0.003),
                                        Photo(set, 0.2, 0.003)};
  EXPECT_TRUE(TakeTogether(set, Numbered(near), 0.005).contradictions.empty());
}

TEST(Together, OnePhotoThatDepartsIsEnough) {
  const refset::RefSet set = SmallSet("pair", 3);
  // The second cannot show 5 %: its limit is 10.6 %.
  const std::vector<Comparison> photos = {Accusing(set, 0.05), Quiet(set, 0, 0.02)};
  const Together t = TakeTogether(set, Numbered(photos), 0.005);
  EXPECT_EQ(t.finding, Finding::kDeparts);
  ASSERT_EQ(t.reasons.size(), 1u);
  EXPECT_EQ(t.reasons[0].said_by, (std::vector<int>{1}));
  EXPECT_TRUE(t.reasons[0].silent.empty());
  EXPECT_NE(t.summary.find("by photo 1: The gap is wider."), std::string::npos) << t.summary;
}

TEST(Together, WhatPhotosShouldShowAndDoNotIsNamedThenWithdrawn) {
  const refset::RefSet set = SmallSet("pair", 3);
  // A photo with u = .008 misses 5 % in 1 - Phi(.05/.008 - 4) = 1.2 % of cases; counted as 2 %.
  const Comparison quiet = Quiet(set, 0, 0.008);
  const Together named = TakeTogether(set, Numbered({Accusing(set, 0.05), quiet}), 0.005);
  EXPECT_EQ(named.finding, Finding::kDeparts);
  ASSERT_EQ(named.reasons[0].silent.size(), 1u);
  EXPECT_NEAR(named.reasons[0].silent[0].chance_to_miss, 0.02, 1e-9);
  ASSERT_FALSE(named.contradictions.empty());
  EXPECT_NE(named.contradictions.back().text.find("is seen in photo 1, not in photo 2"),
            std::string::npos)
      << named.contradictions.back().text;
  // Two such: .02^2 < .005.
  const std::vector<Comparison> three = {Accusing(set, 0.05), quiet, quiet};
  const Together withdrawn = TakeTogether(set, Numbered(three), 0.005);
  EXPECT_TRUE(withdrawn.reasons[0].withdrawn);
  EXPECT_EQ(withdrawn.finding, Finding::kCannotTell);
  EXPECT_NE(withdrawn.summary.find("contradict"), std::string::npos);
  // Said twice, two who miss it do not outweigh it: .02^2 > .005^2.
  const std::vector<Comparison> four = {Accusing(set, 0.05), quiet, quiet, Accusing(set, 0.048)};
  EXPECT_EQ(TakeTogether(set, Numbered(four), 0.005).finding, Finding::kDeparts);
  // One that measures the same amount and only dares not say it, is not against it.
  const std::vector<Comparison> weak = {Accusing(set, 0.05), Quiet(set, 0.04, 0.0105)};
  EXPECT_TRUE(TakeTogether(set, Numbered(weak), 0.005).reasons[0].silent.empty());
}

TEST(Together, TheChanceToMissIsThatOfTheStatedLimit) {
  const refset::RefSet set = SmallSet("pair", 3);
  // A departure as large as the limit is missed by one photo in ten.
  Comparison quiet = Quiet(set, 0, 0.05 / (4 + 1.2816));
  const Together t = TakeTogether(set, Numbered({Accusing(set, 0.05), quiet}), 0.005);
  ASSERT_EQ(t.reasons[0].silent.size(), 1u);
  EXPECT_NEAR(t.reasons[0].silent[0].chance_to_miss, 0.1, 1e-4);
}

TEST(Together, AValueThatIsMeasuredOtherwiseSpeaksAgainstIt) {
  const refset::RefSet set = SmallSet("pair", 3);
  // Its sentence would not have shown 5 %. Its gap is .05 smaller, 1.96 standard deviations.
  const double u = std::sqrt(std::pow(0.05 / 1.959964, 2) - std::pow(0.002, 2));
  const auto silent = [&](double amplitude) {
    const Comparison quiet = Quiet(set, amplitude, 0.05, u);
    return TakeTogether(set, Numbered({Accusing(set, 0.05), quiet}), 0.005).reasons[0].silent;
  };
  ASSERT_EQ(silent(0).size(), 1u);
  EXPECT_NEAR(silent(0)[0].chance_to_miss, 0.05, 1e-6);
  // One that is as far beyond it is not against it.
  EXPECT_TRUE(silent(0.1).empty());
}

TEST(Together, PartsOfALetteringMakeAWhole) {
  refset::RefSet set = SmallSet("pair", 3);
  set.asks.essential = {"mark"};
  const auto blind = [&](bool gap_shows, bool mark_shows) {
    Comparison c = Photo(set, 0.22, 0.002, Finding::kCannotTell);
    c.measured.elements[0].found = c.measured.elements[1].found = true;
    c.sentences = {Tried(0, 0.004, 4, false)};
    c.sentences[0].decidable = gap_shows;
    if (!mark_shows) {
      Reason r;
      r.measure = "mark";
      c.reasons = {r};
    }
    return c;
  };
  const std::vector<Comparison> parts = {blind(true, false), blind(false, true)};
  EXPECT_EQ(TakeTogether(set, Numbered(parts), 0.005).finding, Finding::kNoDepartureFound);
  const std::vector<Comparison> lacking = {blind(true, false), blind(false, false)};
  const Together open = TakeTogether(set, Numbered(lacking), 0.005);
  EXPECT_EQ(open.finding, Finding::kCannotTell);
  ASSERT_EQ(open.untold.size(), 1u);
  EXPECT_NE(open.untold[0].find("of the mark"), std::string::npos);
}

TEST(JudgeItem, EverySetHasItsSay) {
  const refset::RefSet front = SmallSet("front", 3), back = SmallSet("back", 3);
  const auto item = [&](std::optional<Comparison> of_back) {
    std::vector<ItemPhoto> photos = {{"a.jpg", "front", "", Quiet(front, 0, 0.004), {}},
                                     {"b.jpg", "back", "", std::move(of_back), {}}};
    if (!photos[1].comparison) photos[1].refusal = Error{ErrorCode::kNoStamp, "", "", "", ""};
    return JudgeItem(std::move(photos), {&front, &back}, 0.004);
  };
  EXPECT_EQ(item(Quiet(back, 0, 0.004)).finding, Finding::kNoDepartureFound);
  EXPECT_EQ(item(std::nullopt).finding, Finding::kCannotTell);
  const ItemComparison departs = item(Accusing(back, 0.05));
  EXPECT_EQ(departs.finding, Finding::kDeparts);
  // What decides comes first, with the photo's number over the whole item.
  EXPECT_TRUE(departs.summary.starts_with("Set back: The lettering departs")) << departs.summary;
  EXPECT_NE(departs.summary.find("by photo 2"), std::string::npos);
  EXPECT_DOUBLE_EQ(departs.RateOfPhoto(), 0.002);
}

TEST(PhotosInWords, ReadsAsPeopleSayIt) {
  EXPECT_EQ(PhotosInWords({2}), "photo 2");
  EXPECT_EQ(PhotosInWords({1, 3}), "photos 1 and 3");
  EXPECT_EQ(PhotosInWords({1, 2, 4}), "photos 1, 2 and 4");
}

}  // namespace
}  // namespace debossier::compare
