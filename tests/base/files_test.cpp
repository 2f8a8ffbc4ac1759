// Files are read within a limit, and written whole or not at all.
#include "base/files.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <cerrno>
#include <fstream>

#include "base/outputs.h"

namespace debossier {
namespace {

namespace fs = std::filesystem;

class Files : public ::testing::Test {
 protected:
  void SetUp() override {
    std::string name = (fs::path(testing::TempDir()) / "files-XXXXXX").string();
    folder_ = mkdtemp(name.data());
  }
  void TearDown() override { fs::remove_all(folder_); }
  std::string Text(const std::string& name) const {
    std::ifstream in(folder_ / name, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
  }
  std::size_t Count() const {
    return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder_), {}));
  }
  fs::path folder_;
};

// FIPS 180-4's example "abc", and the empty message (NIST's Secure Hash Standard examples).
TEST(Sha256Test, ExamplesOfFips180) {
  EXPECT_EQ(Sha256Hex("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(Sha256Hex(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST_F(Files, OneOfSeveralThatCannotBeWrittenLeavesNone) {
  const auto written = WriteFilesWhole({{folder_ / "a", "1"}, {folder_ / "missing" / "b", "2"}},
                                       IfExists::kReplace, "base");
  ASSERT_FALSE(written);
  EXPECT_EQ(written.error().code, ErrorCode::kOutputNotWritable);
  EXPECT_EQ(Count(), 0u);
}

TEST_F(Files, AFileThatIsThereIsReplacedOnlyWhereAsked) {
  ASSERT_TRUE(WriteFileWhole(folder_ / "a", "old", IfExists::kRefuse, "base"));
  const auto refused = WriteFileWhole(folder_ / "a", "new", IfExists::kRefuse, "base");
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::kOutputExists);
  EXPECT_EQ(Text("a"), "old");
  ASSERT_TRUE(WriteFileWhole(folder_ / "a", "new", IfExists::kReplace, "base"));
  EXPECT_EQ(Text("a"), "new");
  EXPECT_EQ(Count(), 1u) << "nothing temporary stays";
}

TEST_F(Files, ReadingStopsAtItsLimitAndAtWhatIsNoFile) {
  ASSERT_TRUE(WriteFileWhole(folder_ / "a", "12345", IfExists::kRefuse, "base"));
  EXPECT_TRUE(LoadFile(folder_ / "a", 5, "base"));
  EXPECT_EQ(LoadFile(folder_ / "a", 4, "base").error().code, ErrorCode::kOverLimit);
  EXPECT_EQ(LoadFile(folder_, 5, "base").error().code, ErrorCode::kFileMissing);
  EXPECT_EQ(LoadFile("/dev/zero", 5, "base").error().code, ErrorCode::kFileMissing);
}

TEST_F(Files, MovingReplacesNothing) {
  ASSERT_TRUE(WriteFileWhole(folder_ / "a", "1", IfExists::kRefuse, "base"));
  ASSERT_TRUE(WriteFileWhole(folder_ / "b", "2", IfExists::kRefuse, "base"));
  EXPECT_EQ(MoveNew(folder_ / "a", folder_ / "b"), EEXIST);
  EXPECT_EQ(Text("b"), "2");
  EXPECT_EQ(MoveNew(folder_ / "a", folder_ / "c"), 0);
  EXPECT_EQ(Text("c"), "1");
}

TEST_F(Files, AFolderHoldsWhatLinksLeadIntoIt) {
  fs::create_directory(folder_ / "kept");
  fs::create_directory_symlink(folder_ / "kept", folder_ / "link");
  EXPECT_TRUE(LiesIn(folder_ / "link" / "x.json", folder_ / "kept"));
  EXPECT_TRUE(LiesIn(folder_ / "kept", folder_ / "kept"));
  EXPECT_FALSE(LiesIn(folder_ / "kept-not", folder_ / "kept"));
  EXPECT_FALSE(LiesIn(folder_ / "kept" / ".." / "x", folder_ / "kept"));
}

}  // namespace
}  // namespace debossier
