// Reference sets whose items are drawn around the demo set's means, as photos of one die would be.
#pragma once

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <string>
#include <utility>

#include "compare/compare_photo.h"
#include "refset/refset.h"

namespace debossier::compare {

class DrawnSets : public ::testing::Test {
 protected:
  void SetUp() override {
    auto set = refset::LoadSet({DEBOSSIER_SOURCE}, "orbenna");
    ASSERT_TRUE(set) << set.error().ToString();
    demo_ = std::move(*set);
  }

  /// Items drawn around the demo set's means: photos of one die.
  refset::RefSet Drawn(std::size_t count, unsigned seed) const {
    std::mt19937 random(seed);
    std::normal_distribution<> normal;
    refset::RefSet set = demo_;
    set.items.clear();
    for (std::size_t i = 0; i < count; ++i) {
      refset::Item item = demo_.items[0];
      item.id = "item" + std::to_string(i + 1);
      for (const auto& f : measure::FeaturesOf(demo_.lettering, item.features)) {
        const bool shape = f.kind == measure::FeatureKind::kShape;
        const double u = shape ? 0.001 : 0.002;
        const double spread = shape ? 0.002 : PriorOf(f.kind).deviation;
        const double mean = refset::StatisticsOf(demo_, f.key).mean;
        item.features[f.key] = {mean + normal(random) * std::hypot(u, spread), u};
      }
      set.items.push_back(std::move(item));
    }
    return set;
  }

  static void Move(refset::Item& item, const std::string& key, double by) {
    ASSERT_TRUE(item.features.contains(key)) << key;
    item.features[key].value += by;
  }

  refset::RefSet demo_;
};

}  // namespace debossier::compare
