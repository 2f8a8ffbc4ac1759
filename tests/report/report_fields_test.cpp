// Who, for whom and when: read from a key file (Desktop Entry Specification's basic format, as GLib
// reads it), refused where something is wrong, never guessed.
#include "report/report_fields.h"

#include <gtest/gtest.h>

#include <filesystem>

#include "base/files.h"
#include "base/text_forms.h"

namespace debossier::report {
namespace {

class ReportFieldsTest : public testing::Test {
 protected:
  std::string Written(const std::string& text) {
    const std::string path = testing::TempDir() + "report-fields.ini";
    EXPECT_TRUE(WriteFileWhole(path, text, IfExists::kReplace, "test"));
    return path;
  }
  void TearDown() override { std::filesystem::remove(testing::TempDir() + "report-fields.ini"); }
  std::string FaultOf(const std::string& text) {
    const auto fields = LoadReportFields(Written(text));
    return fields ? "none" : fields.error().ToString();
  }
};

TEST_F(ReportFieldsTest, AreReadInAnyScript) {
  const auto fields = LoadReportFields(Written(
      "# the shop's own\n[report]\nlaboratory = Ательє Орбенна, 塔尔文街 4\nexaminer=M. Okonjo\n"
      "received=2026-02-28\n\n[other]\nexaminer=nobody\n"));
  ASSERT_TRUE(fields) << fields.error().ToString();
  EXPECT_EQ(fields->laboratory, "Ательє Орбенна, 塔尔文街 4");
  EXPECT_EQ(fields->examiner, "M. Okonjo");
  EXPECT_EQ(fields->received, "2026-02-28");
  EXPECT_EQ(fields->client, "");
}

TEST_F(ReportFieldsTest, FaultsNameTheFileAndTheWayOut) {
  const std::pair<const char*, const char*> faults[] = {
      {"examiner=A\n", "is no settings file"},
      {"", "has no group [report]"},
      {"[report]\nexaminor=A\n", "\"examinor\" is no field"},
      {"[report]\nissued=2026-02-30\n", "\"2026-02-30\" is no date"},
      {"[report]\nissued=yesterday\n", "is no date"},
      {"[report]\nclient=\xff\xfe\n", "cannot be read"},
  };
  for (const auto& [text, fault] : faults) {
    const std::string said = FaultOf(text);
    EXPECT_NE(said.find(fault), std::string::npos) << text << ": " << said;
    EXPECT_NE(said.find("report-fields.ini"), std::string::npos) << said;
  }
  EXPECT_NE(FaultOf("[report]\nclient=" + std::string(401, 'x')).find("too long"),
            std::string::npos);
  EXPECT_NE(FaultOf("[report]\nremarks=" + std::string(70'000, 'x')).find("report-fields.ini"),
            std::string::npos);
}

TEST_F(ReportFieldsTest, WhatIsGivenGoesBeforeTheFile) {
  ReportFields file, given;
  file.examiner = "file";
  file.client = "file";
  given.client = "given";
  const ReportFields both = Over(file, given);
  EXPECT_EQ(both.examiner, "file");
  EXPECT_EQ(both.client, "given");
}

// ISO 8601 calendar dates; leap years by the Gregorian rule.
TEST(IsIsoDate, IsADayThatExists) {
  for (const char* day : {"2026-11-28", "2024-02-29", "2000-02-29"}) EXPECT_TRUE(IsIsoDate(day));
  for (const char* day : {"", "2026-11-8", "2026-13-01", "2023-02-29", "1900-02-29", "2026-11-31",
                          "2026/11/28", "2026-11-28 ", "+026-11-28", "2026-1 -28"}) {
    EXPECT_FALSE(IsIsoDate(day)) << day;
  }
}

}  // namespace
}  // namespace debossier::report
