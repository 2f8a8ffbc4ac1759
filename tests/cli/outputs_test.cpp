// What a run may write: never over what it reads, nothing twice, nothing half.
#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "cli/program.h"

namespace debossier {
namespace {

namespace fs = std::filesystem;

class Outputs : public Cli {
 protected:
  void SetUp() override {
    Cli::SetUp();
    photo_ = Out("photo.jpg");
    fs::copy_file(kSource + "/examples/orbenna/genuine.jpg", photo_);
    bytes_ = Text(photo_);
  }
  std::string photo_;
  std::string bytes_;
};

TEST_F(Outputs, NeverTheQuestionedPhoto) {
  fs::create_symlink(photo_, Out("link.jpg"));
  fs::create_hard_link(photo_, Out("twin.jpg"));
  for (const std::string out :
       {"photo.jpg", "link.jpg", "twin.jpg", "../cli_NeverTheQuestionedPhoto/photo.jpg"}) {
    for (const char* option : {"--json ", "--pdf "}) {
      const ProgramRun run = Program(Compare(photo_) + option + Out(out) + " --replace");
      EXPECT_EQ(run.code, 2) << out;
      EXPECT_NE(run.output.find("what is read"), std::string::npos) << run.output;
    }
  }
  const ProgramRun measured =
      Program("measure --photo " + photo_ + " --line ORBENNA --json " + photo_ + " --replace");
  EXPECT_EQ(measured.code, 2) << measured.output;
  EXPECT_EQ(Text(photo_), bytes_);
  EXPECT_TRUE(fs::is_symlink(Out("link.jpg")));
}

TEST_F(Outputs, NeverOneFileTwice) {
  const ProgramRun run =
      Program(Compare(photo_) + "--json " + Out("out") + " --pdf " + Out("./out"));
  EXPECT_EQ(run.code, 2);
  EXPECT_NE(run.output.find("--pdf names the same file as --json"), std::string::npos)
      << run.output;
  EXPECT_FALSE(fs::exists(Out("out")));
}

TEST_F(Outputs, NeverInTheLibraryAndNeverADevice) {
  const std::string library = Out("library");
  fs::create_directory(library);
  fs::copy(kSource + "/refsets", library + "/refsets", fs::copy_options::recursive);
  fs::copy(kSource + "/glyphs", library + "/glyphs", fs::copy_options::recursive);
  const std::string set = library + "/refsets/orbenna/set.json";
  const std::string before = Text(set);
  const std::string to = "--library " + library + " ";
  fs::create_directory_symlink(library + "/refsets", Out("way"));
  for (const std::string& command :
       {"compare --set orbenna --photo " + photo_ + " --replace --json " + set,
        "compare --set orbenna --photo " + photo_ + " --json " + Out("way/new.json"),
        "refset check orbenna --replace --json " + set,
        "refset proof orbenna --pdf " + library + "/glyphs/proof.pdf",
        "batch " + Out("") + " --set orbenna --out " + library + "/refsets/results"}) {
    const ProgramRun run = Program(to + command);
    EXPECT_EQ(run.code, 2) << command << ": " << run.output;
    EXPECT_NE(run.output.find("lies in the library"), std::string::npos) << run.output;
  }
  EXPECT_EQ(Text(set), before);
  EXPECT_FALSE(fs::exists(library + "/refsets/results"));
  for (const char* device : {"/dev/null", "/dev/full", "/dev/stdout"}) {
    const ProgramRun run = Program(Compare(photo_) + "--replace --pdf " + device);
    EXPECT_EQ(run.code, 13) << device << ": " << run.output;
  }
}

// A report that cannot be written takes the result of the same run with it.
TEST_F(Outputs, AllOfARunOrNothing) {
  fs::create_directory(Out("full"));
  const ProgramRun run =
      Program(Compare(photo_) + "--json " + Out("r.json") + " --pdf " + Out("full") + " --replace");
  EXPECT_EQ(run.code, 13) << run.output;
  EXPECT_FALSE(fs::exists(Out("r.json")));
  // The disk is full after the first file: a limit on a file's size that the result keeps and the
  // report does not.
  const std::string command = "ulimit -f 256; trap '' XFSZ; " + std::string(DEBOSSIER_PROGRAM) +
                              " " + Compare(photo_) + "--json " + Out("r.json") + " --pdf " +
                              Out("r.pdf") + " > " + Out("said") + " 2>&1";
  const int status = std::system(("bash -c \"" + command + "\"").c_str());
  EXPECT_EQ(WEXITSTATUS(status), 13) << Text(Out("said"));
  EXPECT_FALSE(fs::exists(Out("r.json")));
  EXPECT_FALSE(fs::exists(Out("r.pdf")));
  EXPECT_NE(Text(Out("said")).find("r.pdf"), std::string::npos) << Text(Out("said"));
  for (const auto& entry : fs::directory_iterator(folder_)) {
    EXPECT_NE(entry.path().extension(), ".part") << entry.path();
  }
}

TEST_F(Outputs, ResultToStandardOutput) {
  const ProgramRun run = Program(Compare(photo_) + "--json -");
  EXPECT_EQ(run.code, 0);
  EXPECT_EQ(run.output.substr(0, 2), "{\n");
  EXPECT_EQ(run.output.substr(run.output.size() - 2), "}\n");
  EXPECT_FALSE(fs::exists("-"));
  EXPECT_EQ(Program(Compare(photo_) + "--pdf -").code, 2);
  EXPECT_EQ(Program(Compare("-")).code, 2);
}

TEST_F(Outputs, AFullDeviceAndAClosedPipeAreErrors) {
  for (const char* command : {"refset list", "--help", "--version"}) {
    const std::string to_full = std::string(DEBOSSIER_PROGRAM) + " --library " + kSource + " " +
                                command + " > /dev/full 2> " + Out("said");
    EXPECT_EQ(WEXITSTATUS(std::system(to_full.c_str())), 13) << command;
    EXPECT_NE(Text(Out("said")).find("standard output"), std::string::npos) << Text(Out("said"));
  }
  const std::string to_closed = "bash -c '" + std::string(DEBOSSIER_PROGRAM) + " --library " +
                                kSource + " compare --set orbenna --photo " + photo_ + " 2> " +
                                Out("said") + " | true; exit ${PIPESTATUS[0]}'";
  EXPECT_EQ(WEXITSTATUS(std::system(to_closed.c_str())), 13) << Text(Out("said"));
}

// FAT, exFAT and some network shares have neither hard links nor a rename that refuses to replace.
// A file system without both is put before the program by replacing the two calls.
TEST_F(Outputs, FileSystemsWithoutHardLinks) {
  const std::string preload = std::string("LD_PRELOAD=") + DEBOSSIER_PLAIN_FILES +
                              " ASAN_OPTIONS=verify_asan_link_order=0 ";
  const std::string program = preload + DEBOSSIER_PROGRAM + " ";
  const auto run = [&](const std::string& arguments) {
    return WEXITSTATUS(std::system((program + arguments + " > /dev/null").c_str()));
  };
  const std::string compare = Compare(photo_) + "--json " + Out("r.json");
  EXPECT_EQ(run(compare), 0);
  EXPECT_EQ(Text(Out("r.json")).substr(0, 2), "{\n");
  EXPECT_EQ(run(compare), 14);
  EXPECT_EQ(run(compare + " --replace"), 0);
  const std::string font = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf";
  if (!fs::exists(font)) GTEST_SKIP() << "fonts-dejavu-core is not installed";
  const std::string create = "--library " + folder_.string() +
                             " refset create --id face --line MARVELTON --by Me --on 2026-05-01 "
                             "--font " +
                             font;
  EXPECT_EQ(run(create), 0);
  EXPECT_EQ(run(create), 14);
  EXPECT_EQ(run("--library " + folder_.string() + " refset show face"), 0);
}

}  // namespace
}  // namespace debossier
