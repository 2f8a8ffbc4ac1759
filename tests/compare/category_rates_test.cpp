// What may be said of categories follows from the counts, and what is not said is told.
#include "compare/category_rates.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <tuple>
#include <vector>

#include "compare/budget.h"
#include "compare/statistics.h"

namespace debossier::compare {
namespace {

constexpr double kRate = 0.005;

outline::Lettering TwoLines() {
  outline::Lettering lettering;
  for (const auto& [id, text, height] :
       {std::tuple{"wordmark", "AB", 1.0}, std::tuple{"origin", "CD", 0.5}}) {
    outline::Line line;
    line.id = id;
    line.text = text;
    line.cap_height = height;
    lettering.lines.push_back(line);
  }
  return lettering;
}

measure::Measurements Measured(double cap_px, double blur_px) {
  measure::Measurements measured;
  measured.quality.cap_height_px = cap_px;
  measured.quality.blur_px = blur_px;
  return measured;
}

Reason Seen(Category category, const std::string& element) {
  Reason reason;
  reason.category = category;
  reason.elements = {element};
  return reason;
}

TEST(CategoryRates, EveryCategoryWasCountedOnSharpPhotosOfUsualSize) {
  for (int k = 0; k <= static_cast<int>(Category::kFrameAdded); ++k) {
    const auto category = static_cast<Category>(k);
    // A mark is small, and so its blur a larger share of it.
    const bool mark = category == Category::kMarkForm || category == Category::kMarkAbsent;
    const CategoryTelling telling = TellingOf(category, mark ? 40 : 60, mark ? 0.05 : 0.03, kRate);
    EXPECT_GE(telling.genuine.photos, 40) << Name(category);
    EXPECT_GE(telling.departing.photos, 10) << Name(category);
  }
}

TEST(CategoryRates, NothingIsSaidThatGenuinePhotosShowTooOften) {
  for (const CategoryRate& r : CategoryRates()) {
    ASSERT_LE(r.said_of_genuine, r.genuine);
    ASSERT_LE(r.flagged, r.departing);
    ASSERT_LE(r.named, r.departing);
    const double size = std::vector{15.0, 25.0, 40.0, 70.0, 120.0}[r.size_cell];
    const double blur = std::vector{0.02, 0.06, 0.1}[r.blur_cell];
    ASSERT_EQ(SizeCell(size), r.size_cell);
    ASSERT_EQ(BlurCell(blur), r.blur_cell);
    const CategoryTelling telling = TellingOf(r.category, size, blur, kRate);
    const Interval said = WilsonInterval(telling.genuine.beyond, telling.genuine.photos);
    if (telling.may_be_said) {
      EXPECT_LE(said.low, kRate * BudgetOf(Family::kForm).share) << Name(r.category);
    }
    // Whoever allows more false flags may be told more.
    const CategoryTelling bold = TellingOf(r.category, size, blur, 0.2);
    EXPECT_TRUE(bold.may_be_said || !telling.may_be_said);
  }
}

TEST(CategoryRates, WhatIsSeenIsSaidWithItsCountsOrTold) {
  const outline::Lettering reference = TwoLines();
  for (const double cap_px : {16.0, 100.0}) {
    std::vector<Reason> reasons = {Seen(Category::kLetterForm, "origin.1")};
    std::vector<Reason> untold;
    const auto trials = JudgeCategories(reference, Measured(cap_px, 1.5), kRate, reasons, untold);
    const auto trial = std::find_if(trials.begin(), trials.end(), [](const CategoryTrial& t) {
      return t.category == Category::kLetterForm && t.subject == "origin";
    });
    ASSERT_NE(trial, trials.end());
    EXPECT_DOUBLE_EQ(trial->size_px, cap_px / 2);
    EXPECT_DOUBLE_EQ(trial->blur, 3 / cap_px);
    EXPECT_TRUE(trial->seen);
    EXPECT_EQ(std::count_if(trials.begin(), trials.end(), [](const auto& t) { return t.seen; }), 1);
    EXPECT_EQ(reasons.size(), trial->may_be_said ? 1U : 0U);
    if (!reasons.empty()) {
      EXPECT_EQ(reasons[0].beyond->photos, trial->genuine.photos);
    }
    const bool told = std::any_of(untold.begin(), untold.end(), [](const Reason& r) {
      return r.text.find("There are signs of another letter in \"CD\"") != std::string::npos;
    });
    EXPECT_EQ(told, !trial->may_be_said);
  }
}

}  // namespace
}  // namespace debossier::compare
