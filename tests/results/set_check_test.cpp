// The check of a set as text and JSON.
#include "results/set_check.h"

#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "compare/drawn_poses.h"
#include "support/json_schema.h"

namespace debossier::report {
namespace {

using compare::CheckSet;

TEST(SetCheckReport, JsonHoldsItsSchema) {
  const auto lettering = compare::BoxLettering(7, 9);
  const auto drawn = [&](int items, unsigned seed) {
    auto set = compare::PoseDrawer(lettering, seed).Set(items, 0.001);
    set.id = "drawn";
    return set;
  };
  const auto move = [](refset::Item& item, double by) {
    item.poses.at("mark").value[measure::kAlong] += by;
  };
  std::ifstream file(std::string(DEBOSSIER_SOURCE) + "/src/results/set-check.schema.json");
  const auto schema = nlohmann::json::parse(file);
  auto odd = drawn(6, 5);
  move(odd.items[0], 0.3);
  auto two = drawn(6, 6);
  for (const std::size_t i : {0U, 1U, 2U}) move(two.items[i], 0.5);
  for (const auto& set : {drawn(0, 1), drawn(2, 1), odd, two}) {
    const auto check = CheckSet(set);
    ASSERT_TRUE(check);
    const auto json = nlohmann::json::parse(SetCheckJson(*check));
    const auto errors = test_support::SchemaErrors(schema, json);
    EXPECT_TRUE(errors.empty()) << errors[0];
    EXPECT_EQ(json["is_consistent"], check->is_consistent());
    EXPECT_NE(SetCheckText(*check).find(VerdictInWords(*check)), std::string::npos);
  }
  EXPECT_FALSE(CheckSet(odd)->is_consistent());
  EXPECT_TRUE(CheckSet(two)->division.two_dies);
}

}  // namespace
}  // namespace debossier::report
