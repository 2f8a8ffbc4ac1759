#include "compare/item_lettering.h"

#include <gtest/gtest.h>

#include "compare/set_model.h"

namespace debossier::compare {
namespace {

class ItemLettering : public ::testing::Test {
 protected:
  void SetUp() override {
    auto set = refset::LoadSet({DEBOSSIER_SOURCE}, "orbenna");
    ASSERT_TRUE(set) << set.error().ToString();
    demo_ = std::move(*set);
  }
  refset::RefSet demo_;
};

TEST_F(ItemLettering, AnItemLikeTheSetHasTheSetsOutlines) {
  // An item whose features are those of the outlines themselves.
  refset::RefSet set = demo_;
  refset::Item item;
  item.id = "same";
  const outline::Element* before = nullptr;
  double right = -1e9;
  for (const auto& e : set.lettering.elements) {
    const auto box = outline::Bounds(e.outline);
    if (e.kind == outline::ElementKind::kMark) {
      item.features["mark gap mark"] = {box.min.x() - right, 0};
      item.features["mark size mark"] = {box.height(), 0};
      item.features["mark rise mark"] = {box.min.y(), 0};
      continue;
    }
    if (e.line_idx == 0) right = std::max(right, box.max.x());
    item.features["letter width " + e.id] = {box.width(), 0};
    item.features["letter height " + e.id] = {box.height(), 0};
    if (before != nullptr && before->line_idx == e.line_idx) {
      item.features["gap " + before->id + " " + e.id] = {
          box.min.x() - outline::Bounds(before->outline).max.x(), 0};
    }
    before = &e;
  }
  const auto same = LetteringOfItem(set, item);
  ASSERT_EQ(same.size(), set.lettering.elements.size());
  for (std::size_t i = 0; i < same.size(); ++i) {
    const auto is = outline::Bounds(same[i].outline);
    const auto was = outline::Bounds(set.lettering.elements[i].outline);
    EXPECT_LT((is.min - was.min).norm() + (is.max - was.max).norm(), 1e-9) << same[i].id;
  }
  // A wider gap moves what follows against what stands before.
  item.features["gap wordmark.2 wordmark.3"].value += 0.1;
  const auto moved = LetteringOfItem(set, item);
  const auto at = [](const std::vector<outline::Element>& list, const std::string& id) {
    for (const auto& e : list) {
      if (e.id == id) return outline::Bounds(e.outline).min.x();
    }
    return -1e9;
  };
  EXPECT_NEAR((at(moved, "wordmark.3") - at(moved, "wordmark.2")) -
                  (at(same, "wordmark.3") - at(same, "wordmark.2")),
              0.1, 1e-9);
}

// Sets of before poses were kept: their lengths stand for them. What lengths do not have is common
// to a line (its place, its turn) and is left open by every comparison.
TEST_F(ItemLettering, LengthsStandForPoses) {
  const refset::Item& kept = demo_.items[1];
  refset::Item old = kept;
  old.poses.clear();
  const PhotoPoses from_lengths = PosesOf(demo_, old);
  const PhotoPoses from_poses = PosesOf(demo_, kept);
  ASSERT_EQ(from_lengths.elements.size(), from_poses.elements.size());
  double largest = 0;
  for (std::size_t j = 2; j < 7; ++j) {
    ASSERT_TRUE(from_lengths.elements[j] && from_poses.elements[j]);
    const auto apart = [](const PhotoPoses& p, std::size_t k) {
      return p.elements[k]->value[measure::kAlong] - p.elements[k - 1]->value[measure::kAlong];
    };
    EXPECT_NEAR(apart(from_lengths, j), apart(from_poses, j), 0.005) << j;
    largest = std::max(largest, std::abs(apart(from_poses, j)));
    EXPECT_GT(from_lengths.elements[j]->covariance(measure::kAlong, measure::kAlong), 0);
  }
  EXPECT_GT(largest, 0.0005) << "the items differ";
}

}  // namespace
}  // namespace debossier::compare
