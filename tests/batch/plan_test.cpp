// What a folder or a manifest asks for.
#include "batch/plan.h"

#include <set>

#include "batch/scratch.h"

namespace debossier::batch {
namespace {

namespace fs = std::filesystem;

class PlanTest : public ScratchTest {
 protected:
  Result<Plan> Manifest(const std::string& text, const std::string& set = "") const {
    return PlanFromManifest(text, "m.csv", in(), {set, {}, {}});
  }
  std::string Mistakes(const std::string& text, const std::string& set = "") const {
    const auto plan = Manifest(text, set);
    EXPECT_FALSE(plan) << text;
    return plan ? "" : plan.error().ToString();
  }
};

TEST_F(PlanTest, ColumnsComeInAnyOrder) {
  Put("a b.jpg", "x");
  Put("sub/c.jpg", "x");
  const auto plan = Manifest(
      "Notes,SET,photo,crop,item\r\n"
      "\"first, of two\",orbenna,a b.jpg,\"1,2,30,40\",bag 7\r\n"
      ",kelmare,sub/c.jpg,,\r\n");
  ASSERT_TRUE(plan) << plan.error().ToString();
  ASSERT_EQ(plan->entries.size(), 2u);
  const Entry& first = plan->entries[0];
  EXPECT_EQ(first.name, "a b.jpg");
  EXPECT_EQ(first.path, in() / "a b.jpg");
  EXPECT_EQ(first.notes, "first, of two");
  EXPECT_EQ(first.set, "orbenna");
  EXPECT_EQ(first.crop, "1,2,30,40");
  EXPECT_EQ(first.item, "bag 7");
  EXPECT_EQ(first.line, 2);
  EXPECT_EQ(plan->entries[1].set, "kelmare");
}

TEST_F(PlanTest, MistakesNameLineAndMend) {
  for (const char* name : {"x.jpg", "y.jpg", "z.jpg", "good.jpg"}) Put(name, "x");
  EXPECT_NE(Mistakes("photo\nx.jpg\n").find("line 2: no reference set is named; fill in"),
            std::string::npos);
  const std::string many = Mistakes(
      "photo,set,crop\n,orbenna,\nx.jpg,Not An Id,\ny.jpg,orbenna,\"1,2\"\nz.jpg,orbenna\n"
      "../up.jpg,orbenna,\n/etc/passwd,orbenna,\ngood.jpg,orbenna,\ngood.jpg,orbenna,\n"
      "gone.jpg,orbenna,\n");
  for (const char* words : {"8 mistakes", "line 2: no photo", "line 3: \"Not An Id\"",
                            "line 4: \"1,2\" is not a crop", "line 5: the row has 2 fields",
                            "line 6: \"../up.jpg\" leads out", "line 7: \"/etc/passwd\"",
                            "line 9: repeats line 8", "line 10: there is no photo \"gone.jpg\""}) {
    EXPECT_NE(many.find(words), std::string::npos) << words << " in " << many;
  }
  EXPECT_NE(Mistakes("photo,colour\n", "orbenna").find("line 1: column \"colour\" is unknown"),
            std::string::npos);
  EXPECT_NE(Mistakes("photo,set,photo\n").find("twice"), std::string::npos);
  EXPECT_NE(Mistakes("set\norbenna\n").find("no column \"photo\""), std::string::npos);
  EXPECT_NE(Mistakes("photo\n", "orbenna").find("no row below"), std::string::npos);
  EXPECT_NE(Mistakes("", "orbenna").find("empty"), std::string::npos);
}

TEST_F(PlanTest, ManifestDoesNotFollowLinksOut) {
  fs::create_symlink("/etc", in() / "link");
  EXPECT_NE(Mistakes("photo\nlink/hostname\n", "orbenna").find("leads out"), std::string::npos);
}

TEST_F(PlanTest, FolderIsSearchedInOrderAndLinksOutAreNot) {
  fs::create_directories(folder_ / "elsewhere");
  std::ofstream(folder_ / "elsewhere" / "x.jpg") << "x";
  for (const char* name : {"b.JPG", "a/c.png", "a/d.tiff", "notes.txt", ".hidden/e.jpg"})
    Put(name, "x");
  fs::create_directory_symlink(folder_ / "elsewhere", in() / "out-folder");
  fs::create_symlink(folder_ / "elsewhere" / "x.jpg", in() / "out.jpg");
  fs::create_directory_symlink(in() / "a", in() / "inner");
  fs::create_symlink(in() / "b.JPG", in() / "z.jpg");
  const auto plan = PlanFromFolder(in(), {"orbenna", {}, {}});
  ASSERT_TRUE(plan) << plan.error().ToString();
  std::vector<std::string> names;
  for (const Entry& entry : plan->entries) names.push_back(entry.name);
  EXPECT_EQ(names, (std::vector<std::string>{"a/c.png", "a/d.tiff", "b.JPG", "z.jpg"}));
  EXPECT_EQ(plan->links_left_out, 2);
  EXPECT_EQ(plan->others_left_out, 1);
  EXPECT_FALSE(PlanFromFolder(in(), {}));
}

TEST_F(PlanTest, OutputNamesAreSafeUniqueAndStable) {
  const std::string long_name = std::string(251, 'x') + ".jpg";
  std::set<std::string> names;
  const std::vector<std::string> photos = {
      "front.jpg",    "a/front.jpg", "b/front.jpg",  "Front.jpg",      "front.png",
      "a b.jpg",      "a_b.jpg",     "\"quote'.jpg", "line\nend.jpg",  "ümlaut.jpg",
      "<script>.jpg", long_name,     "-rf.jpg",      "..jpg",          "\xff\xfe.jpg",
      "con.jpg",      "a/../b.jpg",  "%41.jpg",      "image#top?.jpg", "名前.jpg"};
  for (const std::string& photo : photos) {
    Entry entry;
    entry.name = photo;
    entry.set = "orbenna";
    const std::string name = OutputName(entry);
    EXPECT_TRUE(names.insert(name).second) << photo;
    EXPECT_LE(name.size(), 60u);
    EXPECT_NE(name[0], '-');
    for (const char c : name) {
      EXPECT_TRUE(std::isalnum(static_cast<unsigned char>(c)) || c == '-' || c == '_') << name;
    }
    entry.crop = "0,0,1,1";
    EXPECT_TRUE(names.insert(OutputName(entry)).second);
  }
  Entry entry;
  entry.name = "front.jpg";
  entry.set = "orbenna";
  // SHA-256 of "front.jpg\0orbenna\0" by coreutils' sha256sum: names outlive versions.
  EXPECT_EQ(OutputName(entry), "front-67d860a2915df80b");
}

TEST(ParseCropTest, TakesFourNumbers) {
  const auto crop = ParseCrop("1,2,30,40");
  ASSERT_TRUE(crop);
  EXPECT_EQ(*crop, cv::Rect(1, 2, 30, 40));
  for (const char* bad : {"", "1,2,3", "1,2,3,4,5", "a,2,3,4", "-1,2,3,4", "1, 2,3,4", "1,2,3,"}) {
    EXPECT_FALSE(ParseCrop(bad)) << bad;
  }
}

}  // namespace
}  // namespace debossier::batch
