#include "results/text_summary.h"

#include <gtest/gtest.h>

#include "support/sample_comparison.h"

namespace debossier::report {
namespace {

using test_support::MakeSample;

bool Has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

TEST(TextSummary, GivesFindingReasonsAndKeyNumbers) {
  const auto sample = MakeSample();
  const std::string text = TextSummary(sample.comparison);
  EXPECT_TRUE(text.starts_with("intake-0417.jpg: Departs\n")) << text;
  for (const auto& reason : sample.comparison.reasons) EXPECT_TRUE(Has(text, reason.text)) << text;
  EXPECT_TRUE(Has(text, "off by +6.07 ± 0.98 % of cap height (k = 2)")) << text;
  EXPECT_TRUE(Has(text, "set talvenne-wallets-1968, revision 3, 7 verified items")) << text;
  EXPECT_TRUE(
      Has(text, "46 possible departures tried, 45 of them as small as the set asks; 3 said"))
      << text;
  EXPECT_TRUE(Has(text, "Demonstration")) << text;
  EXPECT_EQ(text.back(), '\n');
}

TEST(TextSummary, NoDepartureComesWithItsLimits) {
  test_support::SampleOptions options;
  options.finding = compare::Finding::kNoDepartureFound;
  const std::string text = TextSummary(MakeSample(options).comparison);
  EXPECT_TRUE(Has(text, "No departure found")) << text;
  EXPECT_TRUE(Has(text, "would have shown: gap off by 1.9 % of the cap height")) << text;
}

TEST(TextSummary, SaysWhatWouldOftenNotShowAndHowOftenGenuinePhotosWereAccused) {
  test_support::SampleOptions options;
  options.finding = compare::Finding::kNoDepartureFound;
  compare::Comparison quiet = MakeSample(options).comparison;
  compare::CategoryTrial trial;
  trial.category = compare::Category::kMarkForm;
  trial.subject = "mark";
  trial.may_be_said = true;
  trial.would_show = false;
  quiet.categories = {trial};
  EXPECT_TRUE(Has(TextSummary(quiet), "would often not show: another mark\n"));
  compare::Comparison loud = MakeSample().comparison;
  loud.reasons.front().beyond = compare::MeasuredShare{0, 168};
  EXPECT_TRUE(
      Has(TextSummary(loud), "of 168 simulated photos of genuine items as sharp as this one"));
}

TEST(TextSummary, CannotTellSaysWhatToPhotographAgain) {
  test_support::SampleOptions options;
  options.finding = compare::Finding::kCannotTell;
  auto sample = MakeSample(options);
  sample.comparison.measured.quality.advice = sample.comparison.advice;
  const std::string text = TextSummary(sample.comparison);
  EXPECT_TRUE(Has(text, "Advice: Photograph the lettering again from straight above")) << text;
  const std::string advice = "Hold the phone still";
  EXPECT_EQ(text.find(advice), text.rfind(advice)) << "advice given twice:\n" << text;
}

TEST(TextSummary, TerminalsGetNoControlCharacters) {
  auto sample = MakeSample();
  sample.comparison.photo.file = "a\x1b[2J\nb\xE2\x80\xAEgpj.exe";  // escape, line end, U+202E
  const std::string text = TextSummary(sample.comparison);
  EXPECT_TRUE(text.starts_with("a\uFFFD[2J b\uFFFDgpj.exe: Departs\n")) << text;
}

}  // namespace
}  // namespace debossier::report
