// The check of a set as text and JSON.
#include "report/set_check.h"

#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "compare/drawn_sets.h"
#include "support/json_schema.h"

namespace debossier::report {
namespace {

using SetCheckReport = compare::DrawnSets;
using compare::CheckSet;

TEST_F(SetCheckReport, JsonHoldsItsSchema) {
  std::ifstream file(std::string(DEBOSSIER_SOURCE) + "/src/report/set-check.schema.json");
  const auto schema = nlohmann::json::parse(file);
  auto odd = Drawn(6, 5);
  Move(odd.items[0], "mark gap mark", 0.3);
  auto two = Drawn(6, 6);
  for (const std::size_t i : {0U, 1U, 2U}) Move(two.items[i], "mark gap mark", 0.5);
  for (const auto& set : {Drawn(0, 1), Drawn(2, 1), odd, two}) {
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
