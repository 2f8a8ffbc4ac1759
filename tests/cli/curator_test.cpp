// What a curator does by hand with the example photos: sets that should not come to be, and changes
// that are told before they are made.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "cli/program.h"

namespace debossier {
namespace {

namespace fs = std::filesystem;

class Curator : public Cli {
 protected:
  std::string Verified(int number) const {
    return kSource + "/examples/orbenna/verified-000" + std::to_string(number) + ".jpg";
  }
  std::string In(const std::string& command) const {
    return "--library " + folder_.string() + " " + command + " ";
  }
  std::string Create(const std::vector<std::string>& photos,
                     const std::string& more = Entry()) const {
    std::string command =
        In("refset create --id own --line ORBENNA --line 'MADE IN VALDORE' --mark ®");
    for (const auto& photo : photos) command += "--photo " + photo + " ";
    return command + more;
  }
  static std::string Entry() { return "--basis 'bought new' --by 'A. Curator' --on 2026-05-01 "; }
  bool HasSet() const { return fs::exists(folder_ / "refsets" / "own"); }
};

TEST_F(Curator, ASetSaysWhoWhenAndOnWhatBasis) {
  const std::vector<std::string> photos = {Verified(0), Verified(1), Verified(2)};
  for (const auto& [more, said] :
       {std::pair("--basis a --by Me", "when"),
        std::pair("--basis a --by Me --on yesterday", "when"),
        std::pair("--basis a --on 2026-05-01", "who"),
        std::pair("--by Me --on 2026-05-01", "the basis of verification is not given"),
        std::pair("--by Me --on 2026-05-01 --basis a --basis b", "2 are given for 3 photos")}) {
    const ProgramRun run = Program(Create(photos, more));
    EXPECT_EQ(run.code, 2) << more;
    EXPECT_NE(run.output.find(said), std::string::npos) << run.output;
  }
  EXPECT_FALSE(HasSet());
}

// By bytes, coded anew, made smaller, cut: the leather is known again. Photos of other items are
// not.
TEST_F(Curator, OneItemCountsOnce) {
  const cv::Mat photo = cv::imread(Verified(1));
  ASSERT_FALSE(photo.empty());
  fs::copy_file(Verified(1), Out("copy.jpg"));
  cv::imwrite(Out("coded.jpg"), photo, {cv::IMWRITE_JPEG_QUALITY, 60});
  cv::Mat small;
  cv::resize(photo, small, {}, 0.6, 0.6, cv::INTER_AREA);
  cv::imwrite(Out("small.png"), small);
  const int dx = photo.cols / 20, dy = photo.rows / 20;
  cv::imwrite(Out("cut.png"), photo(cv::Rect(dx, dy, photo.cols - 2 * dx, photo.rows - 2 * dy)));
  for (const char* again : {"copy.jpg", "coded.jpg", "small.png", "cut.png"}) {
    const ProgramRun run = Program(Create({Verified(0), Verified(1), Out(again)}));
    EXPECT_EQ(run.code, 15) << again << ": " << run.output;
    EXPECT_NE(run.output.find(again), std::string::npos) << run.output;
    EXPECT_NE(run.output.find("item2"), std::string::npos) << run.output;
  }
  EXPECT_FALSE(HasSet());
  const ProgramRun created = Program(Create({Verified(0), Verified(1), Verified(2)}));
  ASSERT_EQ(created.code, 0) << created.output;
  EXPECT_NE(created.output.find("Check: No item stands out"), std::string::npos) << created.output;
  const std::string add = In("refset add own") + Entry();
  for (const char* again : {"copy.jpg", "small.png"}) {
    const ProgramRun run = Program(add + "--photo " + Out(again));
    EXPECT_NE(run.code, 0) << again;
    EXPECT_NE(run.output.find("item2"), std::string::npos) << run.output;
  }
  const ProgramRun other = Program(add + "--photo " + Verified(3));
  EXPECT_EQ(other.code, 0) << other.output;
  EXPECT_NE(other.output.find("Check: "), std::string::npos) << other.output;
  // Asked about its own item, the set says so first.
  const std::string compare = In("compare --set own");
  for (const char* own : {"copy.jpg", "small.png"}) {
    const ProgramRun run = Program(compare + "--json " + Out(own) + ".json --photo " + Out(own));
    EXPECT_EQ(run.code, 0) << run.output;
    EXPECT_NE(run.output.find("This photo shows item2, one of the set's own items"),
              std::string::npos)
        << run.output;
    EXPECT_NE(Text(Out(own) + ".json").find("\"own_item\": \"item2\""), std::string::npos);
  }
  const ProgramRun stranger =
      Program(compare + "--photo " + kSource + "/examples/orbenna/genuine.jpg");
  EXPECT_EQ(stranger.output.find("own items"), std::string::npos) << stranger.output;
}

TEST_F(Curator, ADepartingItemNeedsAWord) {
  ASSERT_EQ(Program(Create({Verified(0), Verified(1), Verified(2), Verified(3)})).code, 0);
  // The demonstration's departing item: its line in small letters would spoil every comparison.
  const std::string add = In("refset add own") + Entry() + "--keep-outlines --photo " + kSource +
                          "/examples/orbenna/departing.jpg ";
  const ProgramRun refused = Program(add);
  EXPECT_EQ(refused.code, 15) << refused.output;
  EXPECT_NE(refused.output.find("departing.jpg"), std::string::npos) << refused.output;
  EXPECT_NE(refused.output.find("--allow-departing"), std::string::npos) << refused.output;
  EXPECT_NE(Program(In("refset log own")).output.find("revision 1"), std::string::npos);
  EXPECT_EQ(Program(In("refset log own")).output.find("revision 2"), std::string::npos);
  const ProgramRun allowed = Program(add + "--allow-departing");
  EXPECT_EQ(allowed.code, 0) << allowed.output;
  EXPECT_NE(allowed.output.find("is now at revision 2: 5 items"), std::string::npos)
      << allowed.output;
}

// The photo that is not like the others is the one that is named, wherever it stands.
TEST_F(Curator, TheWrongPhotoIsNamed) {
  const std::string wrong = kSource + "/examples/kelmare/genuine.jpg";
  for (const auto& photos : {std::vector<std::string>{wrong, Verified(1), Verified(2), Verified(3)},
                             std::vector<std::string>{Verified(1), Verified(2), wrong}}) {
    const ProgramRun run = Program(Create(photos));
    EXPECT_NE(run.code, 0);
    EXPECT_EQ(run.output.rfind("debossier: " + wrong, 0), 0u) << run.output;
  }
}

// A set from a font keeps the font's outlines at every `add`, and says how far photos agree with
// it.
TEST_F(Curator, SetsFromAFontKeepItsOutlines) {
  const std::string font = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf";
  if (!fs::exists(font)) GTEST_SKIP() << "fonts-dejavu-core is not installed";
  // Another face than the photos show: they do not agree well, and the set says so.
  const std::string create = In("refset create --id own --line ORBENNA --by Me --on 2026-05-01");
  ASSERT_EQ(Program(create + "--font " + font).code, 0);
  const std::string outlines = folder_ / "refsets/own/outlines";
  for (const int number : {1, 2}) {
    const ProgramRun run =
        Program(In("refset add own") + Entry() + "--allow-departing --photo " + Verified(number));
    ASSERT_EQ(run.code, 0) << run.output;
    EXPECT_NE(run.output.find("against the font DejaVu Sans: 95 % of"), std::string::npos)
        << run.output;
    int folders = 0;
    for ([[maybe_unused]] const auto& folder : fs::directory_iterator(outlines)) ++folders;
    EXPECT_EQ(folders, 1) << "new outlines were written";
  }
}

// A change by hand of what is in use is told by every command that looks at the set.
TEST_F(Curator, AChangeByHandIsToldByEveryCommand) {
  fs::copy(kSource + "/refsets", folder_ / "refsets", fs::copy_options::recursive);
  fs::copy(kSource + "/glyphs", folder_ / "glyphs", fs::copy_options::recursive);
  const fs::path file = folder_ / "refsets/orbenna/set.json";
  std::string text = Text(file);
  const auto at = text.find("\"basis\": \"");
  ASSERT_NE(at, std::string::npos);
  std::ofstream(file, std::ios::binary) << text.insert(at + 10, "receipt ");
  const std::string genuine = kSource + "/examples/orbenna/genuine.jpg";
  for (const std::string& command :
       {std::string("refset log orbenna"), std::string("refset check orbenna"),
        std::string("refset show orbenna"), "refset proof orbenna --pdf " + Out("p.pdf"),
        "compare --set orbenna --photo " + genuine}) {
    const ProgramRun run = Program("--library " + folder_.string() + " " + command);
    EXPECT_EQ(run.code, 10) << command << ": " << run.output;
    EXPECT_NE(run.output.find("set.json"), std::string::npos) << run.output;
    EXPECT_NE(run.output.find("changed by hand"), std::string::npos) << run.output;
  }
}

}  // namespace
}  // namespace debossier
