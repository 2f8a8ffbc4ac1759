// Arguments that are nearly right, empty or meant for another program.
#include "cli/arguments.h"

#include <gtest/gtest.h>

#include "cli/program.h"

namespace debossier::cli {
namespace {

TEST(NearestName, CountsTypingErrors) {
  const std::vector<std::string> names = {"--photo", "--photos", "--pdf", "--period", "--crop"};
  EXPECT_EQ(Nearest("--phto", names), "--photo");   // a letter is missing
  EXPECT_EQ(Nearest("--phtoo", names), "--photo");  // two are exchanged
  EXPECT_EQ(Nearest("--Photos", names), "--photos");
  EXPECT_EQ(Nearest("--corp", names), "--crop");
  EXPECT_EQ(Nearest("--something-else", names), "");
  EXPECT_EQ(Nearest("", names), "");
}

struct Case {
  const char* given;
  const char* said;
};

TEST_F(Cli, MisspeltNamesAreNamedWithTheNearest) {
  for (const Case& c : {Case{"compare --phto x.jpg", "--photo"}, Case{"cmpare", "compare"},
                        Case{"refset crate", "create"}, Case{"refset undo orbenna --too 1", "--to"},
                        Case{"--libary . refset list", "--library"},
                        Case{"batch in --out o --crop 1,2,3,4", "batch --help"}}) {
    const ProgramRun run = Program(c.given);
    EXPECT_EQ(run.code, 2) << c.given;
    EXPECT_NE(run.output.find(c.said), std::string::npos) << c.given << ": " << run.output;
    EXPECT_EQ(run.output.find("required"), std::string::npos) << run.output;
  }
}

TEST_F(Cli, EmptyAndZeroValuesAreRefused) {
  const std::string compare = Compare(kSource + "/examples/orbenna/genuine.jpg");
  for (const char* wrong : {"--crop ''", "--crop=", "--pdf ''", "--json=", "--crop 0,0,0,0",
                            "--crop 5,5,0,20", "--revision 0", "--scale-size 20,10",
                            "--scale-size 85.60,53.98", "--scale-pick-px 2", "''"}) {
    const ProgramRun run = Program(compare + wrong);
    EXPECT_EQ(run.code, 2) << wrong << ": " << run.output;
    EXPECT_EQ(run.output.substr(0, 11), "debossier: ") << run.output;
  }
  const std::string set = "--library " + kSource + " refset ";
  for (const char* wrong : {"show orbenna --revision 0", "undo orbenna --to 0", "show ''",
                            "check orbenna --revision 0", "proof orbenna --pdf -"}) {
    EXPECT_EQ(Program(set + wrong).code, 2) << wrong;
  }
}

TEST_F(Cli, ADashIsATextAndNoFile) {
  const std::string create = "refset create --id x --basis b --by me --line ";
  EXPECT_NE(Program(create + "ABC --photo -").output.find("standard input"), std::string::npos);
  EXPECT_EQ(Program(create + "- --photo x.jpg").output.find("standard input"), std::string::npos);
}

TEST_F(Cli, TheLibraryMayStandBehindTheCommand) {
  const ProgramRun run = Program("refset list --library " + kSource);
  EXPECT_EQ(run.code, 0);
  EXPECT_NE(run.output.find("orbenna"), std::string::npos) << run.output;
}

}  // namespace
}  // namespace debossier::cli
