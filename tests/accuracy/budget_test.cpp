// A small part of the accuracy program, held to the numbers in tests/data/accuracy_budgets.json.
//
// A number that is worse than its budget fails; so does one that is better by more than a quarter,
// until the budget is brought down to it, so that what was gained cannot be lost unseen.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "accuracy/trial.h"
#include "compare/compare_photo.h"
#include "image/photo.h"
#include "refset/refset.h"

namespace debossier::accuracy {
namespace {

constexpr int kDie = 3;  // a grotesque of a widespread package
// The dies of that package: one photo of one die moves by a tenth with every change of rounding.
constexpr std::array kDies = {0, 3, 13};

bool HasFonts() {
  const DiePlan& plan = DiePlans()[kDie];
  return std::filesystem::exists(plan.font);
}

std::vector<double> Errors(const std::vector<MeasureRow>& measures, const std::string& name) {
  std::vector<double> errors;
  for (const auto& m : measures) {
    if (m.measure == name && m.has_truth) errors.push_back(100 * std::abs(m.error));
  }
  std::sort(errors.begin(), errors.end());
  return errors;
}

double Quantile(const std::vector<double>& sorted, double share) {
  return sorted.empty() ? 0.0
                        : sorted[static_cast<std::size_t>(
                              share * static_cast<double>(sorted.size() - 1) + 0.5)];
}

TEST(Budget, CleanPhotos) {
  if (!HasFonts()) GTEST_SKIP() << "fonts-urw-base35 is not installed";
  TrialOptions options;
  options.questioned = options.behind_sets = {simulate::Level::kClean, 100, 100};
  options.set_sizes = {3};
  options.genuine = 3;
  options.departing = 0;
  std::vector<MeasureRow> measures;
  double outline = 0;
  for (const int die : kDies) {
    const auto result = RunDie(die, options);
    ASSERT_TRUE(result) << result.error().ToString();
    ASSERT_TRUE(result->sets[0].built) << result->sets[0].refusal;
    for (const auto& photo : result->photos) {
      EXPECT_EQ(photo.finding, "no-departure-found");
      EXPECT_EQ(photo.cases_wrong, 0);
      EXPECT_TRUE(photo.line_cases_right);
      EXPECT_EQ(photo.unplaced, 0);
      EXPECT_LT(photo.place_error, 0.05);
    }
    measures.insert(measures.end(), result->measures.begin(), result->measures.end());
    outline += 100 * result->sets[0].outline_rms / kDies.size();
  }
  const auto gaps = Errors(measures, "gap");
  const auto heights = Errors(measures, "letter height");
  std::map<std::string, double> reached = {
      {"outline rms", outline},
      {"gap median", Quantile(gaps, 0.5)},
      {"gap p95", Quantile(gaps, 0.95)},
      {"letter height median", Quantile(heights, 0.5)},
      {"letter height p95", Quantile(heights, 0.95)},
      {"line height median", Quantile(Errors(measures, "line height"), 0.5)},
  };
  std::ifstream file(std::string(DEBOSSIER_TEST_DATA) + "/accuracy_budgets.json");
  const auto budgets = nlohmann::json::parse(file);
  for (const auto& [name, budget] : budgets["clean"].items()) {
    ASSERT_TRUE(reached.contains(name)) << name;
    const double most = budget.get<double>();
    EXPECT_LE(reached[name], most) << name << ", % of cap height";
    EXPECT_GE(reached[name], 0.75 * most) << name << " is better than its budget: lower it";
  }
}

/// A simulated photo of a die compared with the die itself as a set without items.
Result<compare::Comparison> AgainstItself(const DiePlan& plan,
                                          std::vector<simulate::Departure> departures,
                                          std::uint64_t seed) {
  std::vector<simulate::Departure> none;
  const auto die = MakeDie(plan, none);
  if (!die) return PassOn(die);
  const auto changed = MakeDie(plan, departures);
  if (!changed) return PassOn(changed);
  simulate::Choices choices;
  choices.leather = simulate::Leather::kSmooth;
  choices.finish = simulate::Finish::kGold;
  auto options = simulate::DrawOptions(simulate::Level::kClean, seed, choices);
  if (!options) return PassOn(options);
  const auto simulated = simulate::Simulate(*changed, *options);
  if (!simulated) return PassOn(simulated);
  auto bytes = simulate::EncodeSimulated(*simulated);
  if (!bytes) return PassOn(bytes);
  const auto photo = image::PhotoFromBytes(std::move(*bytes), "simulated.jpg");
  if (!photo) return PassOn(photo);
  refset::RefSet set;
  set.id = "die";
  set.lettering = *die;
  return compare::ComparePhoto(*photo, set);
}

bool NamesFrame(const compare::Comparison& c) {
  return std::any_of(c.reasons.begin(), c.reasons.end(),
                     [](const auto& r) { return r.measure == "frame"; });
}

TEST(Frames, AddedAndRemoved) {
  if (!HasFonts()) GTEST_SKIP() << "fonts-urw-base35 is not installed";
  DiePlan plain = DiePlans()[kDie];
  DiePlan framed = plain;
  framed.frame = outline::FrameKind::kEllipse;
  const auto genuine = AgainstItself(plain, {}, 5);
  ASSERT_TRUE(genuine) << genuine.error().ToString();
  EXPECT_FALSE(NamesFrame(*genuine));
  for (const char* name : {"frame-ellipse", "frame-rectangle"}) {
    const double clearance = std::string(name) == "frame-ellipse" ? 0.35 : 0.2;
    const auto added = AgainstItself(plain, {{name, "", clearance}}, 6);
    ASSERT_TRUE(added) << added.error().ToString();
    EXPECT_EQ(added->finding, compare::Finding::kDeparts) << name;
    EXPECT_TRUE(NamesFrame(*added)) << name;
  }
  const auto kept = AgainstItself(framed, {}, 7);
  ASSERT_TRUE(kept) << kept.error().ToString();
  EXPECT_FALSE(NamesFrame(*kept));
  const auto removed = AgainstItself(framed, {{"frame-none", "", 0}}, 8);
  ASSERT_TRUE(removed) << removed.error().ToString();
  EXPECT_EQ(removed->finding, compare::Finding::kDeparts);
  EXPECT_TRUE(NamesFrame(*removed));
}

}  // namespace
}  // namespace debossier::accuracy
