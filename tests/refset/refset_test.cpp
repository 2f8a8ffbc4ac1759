#include "refset/refset.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "base/files.h"

namespace debossier::refset {
namespace {

namespace fs = std::filesystem;

class RefSetFiles : public ::testing::Test {
 protected:
  void SetUp() override {
    const auto* info = ::testing::UnitTest::GetInstance()->current_test_info();
    folder_ = fs::path(::testing::TempDir()) / (std::string("refset_") + info->name());
    fs::remove_all(folder_);
    fs::create_directories(folder_);
  }
  void TearDown() override { fs::remove_all(folder_); }

  static RefSet Sample() {
    RefSet set;
    set.id = "sample";
    set.labels.maker = "Ατελιέ Ορμπέννα";
    set.source = "photos";
    set.lettering.lines.push_back({"wordmark", "OI", 0, 1, 0});
    outline::Element o;
    o.id = "wordmark.0";
    o.character = "O";
    o.outline.contours = {outline::Ellipse({0.5, 0.5}, 0.5, 0.5),
                          outline::Reversed(outline::Ellipse({0.5, 0.5}, 0.4, 0.4))};
    outline::Element i;
    i.id = "wordmark.1";
    i.character = "I";
    outline::Box box;
    box.min = {1.2, 0};
    box.max = {1.35, 1};
    i.outline.contours = {outline::Rectangle(box)};
    set.lettering.elements = {o, i};
    for (int k = 0; k < 3; ++k) {
      Item item;
      item.id = "item" + std::to_string(k);
      item.photo_sha256 = Sha256Hex(item.id);
      item.features["gap wordmark.0 wordmark.1"] = {0.2 + 0.01 * k, 0.002};
      set.items.push_back(item);
    }
    return set;
  }

  void Damage(const std::string& text) const {
    std::ofstream(folder_ / "refsets" / "sample" / "set.json", std::ios::trunc) << text;
  }

  Library library() const { return {folder_}; }
  fs::path folder_;
};

TEST_F(RefSetFiles, RoundTripKeepsOutlinesAndItems) {
  RefSet set = Sample();
  set.asks.essential = {"frame"};
  ASSERT_TRUE(WriteNewSet(library(), set));
  const auto back = LoadSet(library(), "sample");
  ASSERT_TRUE(back) << back.error().ToString();
  EXPECT_EQ(back->labels.maker, set.labels.maker);
  EXPECT_EQ(back->asks.essential, set.asks.essential);
  ASSERT_EQ(back->lettering.elements.size(), 2u);
  for (int k = 0; k < 2; ++k) {
    const auto a = outline::Bounds(set.lettering.elements[k].outline);
    const auto b = outline::Bounds(back->lettering.elements[k].outline);
    EXPECT_LT((a.min - b.min).norm() + (a.max - b.max).norm(), 1e-5);
  }
  const auto s = StatisticsOf(*back, "gap wordmark.0 wordmark.1");
  EXPECT_EQ(s.count, 3);
  EXPECT_NEAR(s.mean, 0.21, 1e-9);
  EXPECT_NEAR(s.deviation, 0.01, 1e-9);
  EXPECT_EQ(ListSets(library())->size(), 1u);
  // Written once: the same id is refused and nothing of the first is touched.
  EXPECT_EQ(WriteNewSet(library(), set).error().code, ErrorCode::kOutputExists);
  EXPECT_TRUE(LoadSet(library(), "sample"));
}

TEST_F(RefSetFiles, RefusesWhatItShould) {
  EXPECT_EQ(LoadSet(library(), "absent").error().code, ErrorCode::kSetMissing);
  EXPECT_EQ(LoadSet(library(), "../etc").error().code, ErrorCode::kUsage);
  ASSERT_TRUE(WriteNewSet(library(), Sample()));
  const auto good = LoadFile(folder_ / "refsets" / "sample" / "set.json", 1 << 20, "test");
  ASSERT_TRUE(good);
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string text = *good;
    const auto at = text.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    text.replace(at, from.size(), to);
    Damage(text);
    return LoadSet(library(), "sample").error();
  };
  EXPECT_EQ(with("\"version\": 2", "\"version\": 3").code, ErrorCode::kNewerFormat);
  EXPECT_EQ(with("sample-r1.ufo", "../../secret.ufo").code, ErrorCode::kSetUnreadable);
  EXPECT_EQ(with("\"value\": 0.2", "\"value\": 1e999").code, ErrorCode::kSetUnreadable);
  EXPECT_EQ(with("debossier-refset", "something-else").code, ErrorCode::kSetUnreadable);
  EXPECT_EQ(with("\"glyph\": \"wordmark.1\"", "\"glyph\": \"wordmark.9\"").code,
            ErrorCode::kSetUnreadable);
  Damage(good->substr(0, good->size() / 2));
  EXPECT_EQ(LoadSet(library(), "sample").error().code, ErrorCode::kSetUnreadable);
  Damage(std::string(100000, '['));
  EXPECT_EQ(LoadSet(library(), "sample").error().code, ErrorCode::kSetUnreadable);
  Damage("");
  const auto empty = LoadSet(library(), "sample");
  ASSERT_FALSE(empty);
  EXPECT_NE(empty.error().ToString().find("set.json"), std::string::npos);
}

TEST_F(RefSetFiles, ReadOnlyLibraryLeavesNothing) {
  std::ofstream(folder_ / "refsets") << "a file where the folder should be";
  const auto written = WriteNewSet(library(), Sample());
  ASSERT_FALSE(written);
  EXPECT_EQ(written.error().code, ErrorCode::kOutputNotWritable);
  EXPECT_FALSE(fs::exists(folder_ / "glyphs" / "sample.ufo"));
}

}  // namespace
}  // namespace debossier::refset
