// Dossiers as a person makes them: photos by name, an item of a manifest, and what goes wrong.
#include <nlohmann/json.hpp>

#include "cli/program.h"

namespace debossier {
namespace {

namespace fs = std::filesystem;

std::string Dossier() { return "--library " + kSource + " dossier "; }
std::string Example(const std::string& name) { return kSource + "/examples/orbenna/" + name; }

TEST_F(Cli, MakesADossierOfPhotosGivenByName) {
  std::ofstream(Out("seen.txt")) << "Handle glued.\n";
  const ProgramRun run =
      Program(Dossier() + "--set orbenna --photo " + Example("genuine.jpg") + " --photo " +
              Example("verified-0001.jpg") + " --item 'bag 3' --observations " + Out("seen.txt") +
              " --pdf " + Out("d.pdf") + " --json " + Out("d.json"));
  EXPECT_EQ(run.code, 0) << run.output;
  EXPECT_TRUE(run.output.starts_with("No departure found, over 2 photos\n")) << run.output;
  // The second is the set's own, and that is said first.
  EXPECT_NE(run.output.find("one of the set's own items"), std::string::npos) << run.output;
  EXPECT_TRUE(Text(Out("d.pdf")).starts_with("%PDF-"));
  const auto json = nlohmann::json::parse(Text(Out("d.json")));
  EXPECT_EQ(json["observations"], "Handle glued.\n");
  EXPECT_EQ(json["false_flag_rate_of_a_photo"], 0.0025);
}

TEST_F(Cli, MakesADossierOfAnItemOfAManifest) {
  std::ofstream(Out("m.csv")) << "photo,item,set,notes\n"
                                 "orbenna/genuine.jpg,bag 1,orbenna,front\n"
                                 "orbenna/departing.jpg,bag 2,orbenna,\n"
                                 "orbenna/lost.jpg,bag 2,orbenna,inside\n"
                                 "kelmare/genuine.jpg,bag 1,kelmare,back\n";
  const std::string manifest =
      Dossier() + "--manifest " + Out("m.csv") + " --photos " + kSource + "/examples --json - ";
  const ProgramRun two = Program(manifest + "--item 'bag 1'");
  EXPECT_EQ(two.code, 0) << two.output;
  const auto json = nlohmann::json::parse(two.output);
  EXPECT_EQ(json["finding"], "no-departure-found");
  ASSERT_EQ(json["sets"].size(), 2u);
  EXPECT_EQ(json["photos"][1]["notes"], "back");
  // One photo that is not there leaves the rest.
  const ProgramRun lost = Program(manifest + "--item 'bag 2'");
  EXPECT_EQ(lost.code, 21) << lost.output;
  EXPECT_NE(lost.output.find("\"finding\": \"departs\""), std::string::npos);
  EXPECT_NE(lost.output.find("1 of 2 photos could not be compared"), std::string::npos);

  const ProgramRun which = Program(manifest);
  EXPECT_EQ(which.code, 2);
  EXPECT_NE(which.output.find("--item \"bag 1\""), std::string::npos) << which.output;
  const ProgramRun wrong = Program(manifest + "--item 'bag 11'");
  EXPECT_EQ(wrong.code, 2);
  EXPECT_NE(wrong.output.find("did you mean \"bag 1\"?"), std::string::npos) << wrong.output;
}

TEST_F(Cli, RefusesDossiersThatCannotBeMade) {
  const std::string photo = Example("genuine.jpg");
  for (const auto& [arguments, words] :
       {std::pair(std::string(""), "--photo"), std::pair("--photo " + photo, "--set"),
        std::pair("--set orbenna --photo " + photo + " --photo " + photo, "given twice"),
        std::pair("--set orbenna --photo " + photo + " --pdf " + photo, "--pdf"),
        std::pair("--set orbenna --photo " + photo + " --manifest m.csv", "two places"),
        std::pair("--set orbenna --photo " + photo + " --false-flag-rate 0.3", "0.2")}) {
    const ProgramRun run = Program(Dossier() + arguments);
    EXPECT_EQ(run.code, 2) << run.output;
    EXPECT_NE(run.output.find(words), std::string::npos) << run.output;
  }
  const ProgramRun none =
      Program(Dossier() + "--set orbenna --photo " + Out("none.jpg") + " --pdf " + Out("d.pdf"));
  EXPECT_NE(none.code, 0);
  EXPECT_NE(none.output.find("none.jpg"), std::string::npos) << none.output;
  EXPECT_FALSE(fs::exists(Out("d.pdf")));
}

}  // namespace
}  // namespace debossier
