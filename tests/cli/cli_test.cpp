// The program as a person runs it: exit codes, messages, outputs, and the README held against
// --help.
#include <cstdlib>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <regex>
#include <set>

#include "cli/program.h"

namespace debossier {
namespace {

namespace fs = std::filesystem;

TEST_F(Cli, GenuineAndDepartingExamples) {
  const ProgramRun genuine = Program(Compare(kSource + "/examples/orbenna/genuine.jpg"));
  EXPECT_EQ(genuine.code, 0);
  EXPECT_NE(genuine.output.find("No departure found"), std::string::npos) << genuine.output;
  const ProgramRun departing = Program(Compare(kSource + "/examples/orbenna/departing.jpg"));
  EXPECT_EQ(departing.code, 0);
  EXPECT_NE(departing.output.find("Departs"), std::string::npos) << departing.output;
  EXPECT_NE(departing.output.find("small letters"), std::string::npos) << departing.output;
  // A line in another case has no number, and is counted all the same.
  EXPECT_EQ(departing.output.find("; 0 said"), std::string::npos) << departing.output;
  EXPECT_NE(departing.output.find("Strays as genuine items do, not said: "), std::string::npos);
  // The case alone carries it: no measure that strays by chance is named beside it.
  EXPECT_EQ(departing.output.find("before correction"), std::string::npos) << departing.output;
  const ProgramRun oval = Program("--library " + kSource + " compare --set kelmare --photo " +
                                  kSource + "/examples/kelmare/genuine.jpg");
  EXPECT_NE(oval.output.find("No departure found"), std::string::npos) << oval.output;
}

// A report shows a verified item as a photograph, never the questioned one itself.
TEST_F(Cli, ReportsShowTheClearestOtherItem) {
  if (std::system("command -v pdftotext > /dev/null") != 0) GTEST_SKIP() << "no poppler-utils";
  const auto shown = [&](const std::string& photo, const std::string& more) {
    const ProgramRun run = Program(Compare(kSource + "/examples/orbenna/" + photo) + "--pdf " +
                                   Out("r.pdf") + " --replace " + more);
    EXPECT_EQ(run.code, 0) << run.output;
    EXPECT_EQ(std::system(("pdftotext " + Out("r.pdf") + " " + Out("r.txt")).c_str()), 0);
    return Text(Out("r.txt"));
  };
  const std::regex verified("A verified item of the set \\((item[0-9])\\)");
  std::smatch one, other;
  const std::string departing = shown("departing.jpg", "");
  ASSERT_TRUE(std::regex_search(departing, one, verified)) << departing;
  const int number = one[1].str().back() - '1';
  const std::string own =
      shown("verified-000" + std::to_string(number) + ".jpg", "--examiner 'M. Okonjo'");
  ASSERT_TRUE(std::regex_search(own, other, verified)) << own;
  EXPECT_NE(one[1].str(), other[1].str());
  EXPECT_NE(own.find("M. Okonjo"), std::string::npos);
  const ProgramRun wrong =
      Program(Compare(kSource + "/examples/orbenna/genuine.jpg") + "--issued 2026-02-30");
  EXPECT_EQ(wrong.code, 2);
  EXPECT_NE(wrong.output.find("--issued"), std::string::npos) << wrong.output;
}

// A phone's own format, from the photo to the report.
TEST_F(Cli, ComparesHeicPhotos) {
  const std::string encode = "heif-enc -q 90 " + kSource + "/examples/orbenna/genuine.jpg -o " +
                             Out("photo.heic") + " > /dev/null 2>&1";
  if (std::system(encode.c_str()) != 0) GTEST_SKIP() << "heif-enc is not installed";
  const std::string photo = Out("photo.heic");
  const ProgramRun run =
      Program(Compare(photo) + "--json " + Out("heic.json") + " --pdf " + Out("heic.pdf"));
  EXPECT_EQ(run.code, 0) << run.output;
  EXPECT_NE(run.output.find("No departure found"), std::string::npos) << run.output;
  EXPECT_NE(Text(Out("heic.json")).find("photo.heic"), std::string::npos);
  EXPECT_LT(fs::file_size(Out("heic.pdf")), 1'500'000u);
  // A library that cannot be loaded is as good as none.
  fs::create_directory(Out("none"));
  std::ofstream(Out("none/libheif.so.1"));
  setenv("LD_LIBRARY_PATH", Out("none").c_str(), 1);
  const ProgramRun without = Program(Compare(photo));
  const ProgramRun jpeg = Program(Compare(kSource + "/examples/orbenna/genuine.jpg"));
  unsetenv("LD_LIBRARY_PATH");
  EXPECT_EQ(without.code, 4);
  EXPECT_NE(without.output.find("libheif1"), std::string::npos) << without.output;
  EXPECT_EQ(jpeg.code, 0) << jpeg.output;
}

TEST_F(Cli, TwoRunsGiveTheSameBytes) {
  const std::string photo = kSource + "/examples/orbenna/departing.jpg";
  for (const char* k : {"1", "2"}) {
    ASSERT_EQ(Program(Compare(photo) + "--json " + Out(std::string(k) + ".json") + " --pdf " +
                      Out(std::string(k) + ".pdf"))
                  .code,
              0);
  }
  EXPECT_FALSE(Text(Out("1.json")).empty());
  EXPECT_EQ(Text(Out("1.json")), Text(Out("2.json")));
  EXPECT_EQ(Text(Out("1.pdf")), Text(Out("2.pdf")));
}

TEST_F(Cli, RefusalsHaveTheirCodes) {
  const std::string photo = kSource + "/examples/orbenna/genuine.jpg";
  EXPECT_EQ(Program("compare").code, 2);
  EXPECT_EQ(Program(Compare(Out("absent.jpg"))).code, 3);
  std::ofstream(Out("text.jpg")) << "no image";
  EXPECT_EQ(Program(Compare(Out("text.jpg"))).code, 4);
  std::ofstream(Out("empty.jpg"));
  EXPECT_EQ(Program(Compare(Out("empty.jpg"))).code, 4);
  const std::string whole = Text(photo);
  std::ofstream(Out("half.jpg"), std::ios::binary) << whole.substr(0, whole.size() / 2);
  const ProgramRun half = Program(Compare(Out("half.jpg")));
  EXPECT_EQ(half.code, 4);
  EXPECT_NE(half.output.find("half.jpg"), std::string::npos);
  EXPECT_EQ(Program("--library " + kSource + " compare --set absent --photo " + photo).code, 9);
  EXPECT_EQ(Program(Compare(photo) + "--json /nowhere/at/all.json").code, 13);
  std::ofstream(Out("there.json")) << "kept";
  EXPECT_EQ(Program(Compare(photo) + "--json " + Out("there.json")).code, 14);
  EXPECT_EQ(Text(Out("there.json")), "kept");
  EXPECT_EQ(Program(Compare(photo) + "--crop 1,2,3").code, 2);
  EXPECT_EQ(Program(Compare(photo) + "--false-flag-rate 3").code, 2);
  const ProgramRun other = Program(Compare(kSource + "/examples/kelmare/genuine.jpg"));
  EXPECT_TRUE(other.code == 8 || other.code == 7) << other.output;
  // Nothing half-written stays beside the outputs.
  for (const auto& entry : fs::directory_iterator(folder_)) {
    EXPECT_NE(entry.path().extension(), ".part") << entry.path();
  }
}

TEST_F(Cli, SetFromFontSaysWhatTheFontLacks) {
  const std::string font = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf";
  if (!fs::exists(font)) GTEST_SKIP() << "fonts-dejavu-core is not installed";
  const std::string create =
      "--library " + folder_.string() + " refset create --by Me --on 2026-05-01 --font " + font;
  EXPECT_EQ(Program(create + " --id face --line MARVELTON --mark ®").code, 0);
  // As a create leaves it that was killed at its very end: the next command puts the copy back.
  fs::remove_all(folder_ / "glyphs/face.ufo");
  EXPECT_EQ(Program(create + " --id face --line MARVELTON").code, 14);
  EXPECT_TRUE(fs::exists(folder_ / "glyphs/face.ufo"));
  EXPECT_EQ(Program(create + " --id none --line 漢字").code, 12);
  EXPECT_EQ(Program(create + " --id ../up --line MARVELTON").code, 2);
  const ProgramRun list = Program("--library " + folder_.string() + " refset list");
  EXPECT_NE(list.output.find("face"), std::string::npos);
  EXPECT_EQ(list.output.find("none"), std::string::npos);
}

TEST_F(Cli, MeasuresFromTheTextAlone) {
  const ProgramRun run =
      Program("measure --photo " + kSource + "/examples/orbenna/verified-0002.jpg" +
              " --line ORBENNA --line 'MADE IN VALDORE' --mark ® --json " + Out("m.json"));
  EXPECT_EQ(run.code, 0) << run.output;
  EXPECT_NE(run.output.find("\"MADE IN VALDORE\": capitals"), std::string::npos) << run.output;
  EXPECT_NE(Text(Out("m.json")).find("debossier-measurement"), std::string::npos);
}

TEST_F(Cli, CardIsWrittenOnce) {
  for (const char* paper : {"a4", "letter"}) {
    const std::string out = Out(std::string(paper) + ".pdf");
    const std::string write = std::string("card --paper ") + paper + " --pdf " + out;
    EXPECT_EQ(Program(write).code, 0);
    const std::string bytes = Text(out);
    EXPECT_EQ(bytes.substr(0, 5), "%PDF-");
    EXPECT_EQ(Program(write).code, 14);
    EXPECT_EQ(Program(write + " --replace").code, 0);
    EXPECT_EQ(Text(out), bytes);
  }
  EXPECT_EQ(Program("card").code, 2);
  EXPECT_EQ(Program("card --paper a3 --pdf " + Out("a3.pdf")).code, 2);
}

TEST_F(Cli, ScaleByHand) {
  const std::string compare = Compare(kSource + "/examples/orbenna/departing.jpg");
  const ProgramRun points =
      Program(compare + "--scale-points 100,100,400,100 --scale-mm 8 --json " + Out("p.json"));
  EXPECT_EQ(points.code, 0) << points.output;
  EXPECT_NE(points.output.find("from two points"), std::string::npos) << points.output;
  EXPECT_NE(Text(Out("p.json")).find("\"method\": \"two-points\""), std::string::npos);
  const ProgramRun corners =
      Program(compare + "--scale-corners 50,50,450,50,450,250,50,250 --scale-size 20,10");
  EXPECT_EQ(corners.code, 0) << corners.output;
  EXPECT_NE(corners.output.find("from four corners"), std::string::npos) << corners.output;
  // A card that is not there stops nothing.
  const ProgramRun card = Program(compare + "--card --json " + Out("c.json"));
  EXPECT_EQ(card.code, 0) << card.output;
  EXPECT_NE(card.output.find("No mark of the scale card"), std::string::npos) << card.output;
  EXPECT_NE(Text(Out("c.json")).find("\"method\": \"none\""), std::string::npos);
}

TEST_F(Cli, WrongScalesAreUsageErrors) {
  const std::string compare = Compare(kSource + "/examples/orbenna/genuine.jpg");
  for (const char* wrong :
       {"--scale-points 1,2,3 --scale-mm 20", "--scale-points 1,2,1,2 --scale-mm 20",
        "--scale-points 1,2,300,2", "--scale-points 1,2,300,2 --scale-mm 0",
        "--scale-points 1,2,30000,2 --scale-mm 20", "--scale-points a,b,c,d --scale-mm 20",
        "--scale-mm 20", "--scale-corners 1,2,3,4", "--scale-corners 0,0,90,0,0,60,90,60",
        "--scale-corners 0,0,90,0,90,60,0,60 --scale-size 20", "--card --card-check-mm 9.85",
        "--card-check-mm 99", "--card --scale-points 1,2,300,2 --scale-mm 20"}) {
    const ProgramRun run = Program(compare + wrong);
    EXPECT_EQ(run.code, 2) << wrong << ": " << run.output;
    EXPECT_FALSE(run.output.empty()) << wrong;
  }
  EXPECT_EQ(Program("measure --photo " + kSource +
                    "/examples/orbenna/genuine.jpg --line ORBENNA "
                    "--scale-points 1,2,30000,2 --scale-mm 20")
                .code,
            2);
}

// A scan squeezed to a page format is no tilted camera.
TEST_F(Cli, ASqueezedScanIsNotTilted) {
  cv::Mat photo = cv::imread(kSource + "/examples/orbenna/genuine.jpg");
  cv::resize(photo, photo, {}, 1, 0.85, cv::INTER_AREA);
  cv::imwrite(Out("scan.png"), photo);
  const ProgramRun run =
      Program(Compare(Out("scan.png")) + "--free-aspect --json " + Out("r.json"));
  EXPECT_EQ(run.code, 0) << run.output;
  EXPECT_EQ(run.output.find("tilted"), std::string::npos) << run.output;
  EXPECT_NE(run.output.find("tilt not known"), std::string::npos) << run.output;
  EXPECT_NE(Text(Out("r.json")).find("\"tilt_deg\": null"), std::string::npos);
}

// What is read aloud at a counter: common words, no builders' slang.
TEST_F(Cli, HelpAndReadmeAreInPlainWords) {
  std::string all = Text(kSource + "/README.md");
  for (const char* command :
       {"", "batch ", "card ", "compare ", "desk ", "dossier ", "measure ", "refset ",
        "refset create ", "refset add ", "refset adopt ", "refset check "}) {
    all += Program(std::string(command) + "--help").output;
  }
  for (const char* word : {"anew", "mend", "mends", "takes out", "taken out", "one a photo"}) {
    EXPECT_FALSE(std::regex_search(all, std::regex("\\b" + std::string(word) + "\\b"))) << word;
  }
}

TEST_F(Cli, AMissingFolderIsNamedAsMissing) {
  const std::string photo = kSource + "/examples/orbenna/genuine.jpg";
  const std::string none = Out("none");
  for (const auto& [command, code] :
       {std::pair("--library " + none + " refset list", 9),
        std::pair("--library " + none + " compare --set x --photo " + photo, 9),
        std::pair("--library " + none + " refset retire x --item item1", 9),
        std::pair(Compare(photo) + "--pdf " + none + "/r.pdf", 13)}) {
    const ProgramRun run = Program(command);
    EXPECT_TRUE(run.code == code || run.code == 2) << command << ": " << run.output;
    EXPECT_EQ(run.output.find("ermission"), std::string::npos) << run.output;
  }
  EXPECT_NE(Program("--library " + none + " refset list").output.find("does not exist"),
            std::string::npos);
  EXPECT_FALSE(fs::exists(none));
}

// The README names no option that the program does not have, and every option has help text.
TEST_F(Cli, ReadmeOptionsExist) {
  std::set<std::string> known;
  for (const char* command :
       {"", "batch ", "card ", "compare ", "desk ", "dossier ", "measure ", "refset ",
        "refset create ", "refset add ", "refset retire ", "refset undo ", "refset adopt ",
        "refset log ", "refset check ", "refset proof "}) {
    const ProgramRun help = Program(std::string(command) + "--help");
    const std::regex option("--[a-z][a-z-]+");
    for (std::sregex_iterator it(help.output.begin(), help.output.end(), option), end; it != end;
         ++it) {
      known.insert(it->str());
    }
  }
  // Other programs have options of their own.
  const std::string readme =
      std::regex_replace(Text(kSource + "/README.md"), std::regex("(gpg|cmake) [^`\\n]*"), "");
  const std::regex option("--[a-z][a-z-]+");
  int named = 0;
  for (std::sregex_iterator it(readme.begin(), readme.end(), option), end; it != end; ++it) {
    EXPECT_TRUE(known.contains(it->str())) << it->str();
    ++named;
  }
  EXPECT_GT(named, 10);
}

}  // namespace
}  // namespace debossier
