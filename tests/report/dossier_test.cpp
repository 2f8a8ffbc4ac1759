// Dossiers of the invented example set's photos, as poppler's programs and other readers of JSON
// see them.
#include "report/dossier.h"

#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "base/files.h"
#include "results/dossier_json.h"
#include "results/words.h"
#include "support/json_schema.h"
#include "support/pdf.h"
#include "support/scratch_folder.h"

namespace debossier::report {
namespace {

using compare::Finding;
using test_support::OutputOf;

class Dossier : public ::testing::Test {
 protected:
  static void SetUpTestSuite() {
    auto set = refset::LoadSet({DEBOSSIER_SOURCE}, "orbenna");
    ASSERT_TRUE(set) << set.error().ToString();
    set_ = new refset::RefSet(*std::move(set));
  }
  static void TearDownTestSuite() { delete set_; }

  static DossierPhoto Photo(const std::string& name) {
    DossierPhoto photo;
    photo.name = name;
    photo.set = set_;
    auto bytes =
        LoadFile(std::string(DEBOSSIER_SOURCE) + "/examples/orbenna/" + name, 64u << 20, "test");
    EXPECT_TRUE(bytes);
    if (bytes) photo.bytes = *std::move(bytes);
    return photo;
  }
  static DossierOptions Options() {
    DossierOptions options;
    options.examine.verified =
        std::make_shared<VerifiedPictures>(refset::Library{DEBOSSIER_SOURCE});
    options.observations = "Zip pull replaced.\nLining sewn by hand.";
    options.examine.pdf.fields.item = "bag 12";
    options.examine.pdf.fields.examiner = "A. Invented";
    return options;
  }
  std::string TextOf(const std::string& pdf, const std::string& options = "") const {
    const auto file = scratch_.path() / "dossier.pdf";
    EXPECT_TRUE(WriteFileWhole(file, pdf, IfExists::kReplace, "test"));
    return OutputOf("pdftotext " + options + " " + file.string() + " -");
  }

  static refset::RefSet* set_;
  ScratchFolder scratch_;
};
refset::RefSet* Dossier::set_ = nullptr;

TEST_F(Dossier, SaysWhatAllPhotosSayAndShowsEachOfThem) {
  if (OutputOf("command -v pdftotext").empty()) GTEST_SKIP() << "poppler-utils is not installed";
  DossierPhoto torn = Photo("genuine.jpg");
  torn.name = "torn.jpg";
  torn.bytes.resize(torn.bytes.size() / 3);
  const std::vector<DossierPhoto> photos = {Photo("departing.jpg"), Photo("genuine.jpg"), torn};
  DossierOptions options = Options();
  const auto item = ExamineItem(photos, options);
  ASSERT_TRUE(item) << item.error().ToString();
  EXPECT_EQ(item->finding, Finding::kDeparts);
  EXPECT_DOUBLE_EQ(item->photos[0].comparison->false_flag_rate, 0.005 / 3);
  ASSERT_TRUE(item->photos[2].refusal);
  const auto pdf = DossierPdf(*item, photos, options);
  ASSERT_TRUE(pdf) << pdf.error().ToString();
  EXPECT_EQ(*DossierPdf(*item, photos, options), *pdf);
  const std::string text = TextOf(*pdf, "-layout");
  for (const char* words :
       {"Item dossier", "bag 12", "A. Invented", "3 photos, 2 of them compared",
        "Photo 1: departing.jpg", "not compared:", "Lettering comparison, photo 1 of 3",
        "Lettering comparison, photo 2 of 3", "Zip pull replaced.", "Lining sewn by hand.",
        "0.167 %", "A verified item of the set"}) {
    EXPECT_NE(text.find(words), std::string::npos) << words;
  }
  EXPECT_EQ(text.find("photo 3 of 3"), std::string::npos);
  // One end, on the last page.
  const auto end = text.find("End of report");
  ASSERT_NE(end, std::string::npos);
  EXPECT_EQ(text.find("End of report", end + 1), std::string::npos);
  EXPECT_EQ(text.find("\f", end), text.size() - 1);
  for (const auto& joint : item->sets[0].features) {
    EXPECT_NE(text.find(Value(joint.feature.value, joint.feature.unit)), std::string::npos)
        << joint.feature.label;
  }
  for (const Paper paper : {Paper::kA4, Paper::kLetter}) {
    options.examine.pdf.paper = paper;
    EXPECT_GT(
        test_support::WordsWithinMargins(TextOf(*DossierPdf(*item, photos, options), "-bbox")),
        2000);
  }
}

TEST_F(Dossier, JsonHoldsItsSchema) {
  const std::vector<DossierPhoto> photos = {Photo("departing.jpg"), Photo("genuine.jpg")};
  const auto item = ExamineItem(photos, Options());
  ASSERT_TRUE(item);
  const auto json = nlohmann::json::parse(DossierJson(*item, "seen \xff by hand"));
  const auto load = [](const std::string& name) {
    std::ifstream file(std::string(DEBOSSIER_SOURCE) + "/src/results/" + name);
    return nlohmann::json::parse(file);
  };
  for (const auto& error : test_support::SchemaErrors(load("dossier.schema.json"), json)) {
    ADD_FAILURE() << error;
  }
  for (const auto& photo : json["photos"]) {
    for (const auto& error :
         test_support::SchemaErrors(load("result.schema.json"), photo["result"])) {
      ADD_FAILURE() << error;
    }
  }
  EXPECT_EQ(json["photos"][0]["result"]["finding"], "departs");
}

TEST_F(Dossier, HoldsPhotosOfManySizesAndWords) {
  if (OutputOf("command -v pdftotext").empty()) GTEST_SKIP() << "poppler-utils is not installed";
  std::vector<DossierPhoto> photos = {Photo("genuine.jpg")};
  for (int i = 0; i < 12; ++i) {
    photos.push_back(photos[0]);
    photos.back().name = std::string(300, 'x') + " мешок\x1b\n";
    photos.back().bytes = "no picture " + std::to_string(i);
    photos.back().notes = std::string(2000, 'n');
  }
  DossierOptions options = Options();
  options.observations = std::string(5000, 'o') + "\n\n" + std::string(9000, 'p') + " Лайка";
  options.examine.pdf.fields.item = std::string(200, 'i');
  const auto item = ExamineItem(photos, options);
  ASSERT_TRUE(item) << item.error().ToString();
  EXPECT_EQ(item->finding, Finding::kNoDepartureFound);
  const auto pdf = DossierPdf(*item, photos, options);
  ASSERT_TRUE(pdf);
  EXPECT_GT(test_support::WordsWithinMargins(TextOf(*pdf, "-bbox")), 1000);
}

TEST_F(Dossier, RefusesWhatWouldCountTwiceOrTooMuch) {
  const DossierPhoto photo = Photo("genuine.jpg");
  const auto refusal = [&](const std::vector<DossierPhoto>& photos, double rate = 0.005) {
    DossierOptions options = Options();
    options.examine.compare.false_flag_rate = rate;
    const auto item = ExamineItem(photos, options);
    return item ? std::string() : item.error().ToString();
  };
  EXPECT_NE(refusal({}).find("no photos"), std::string::npos);
  EXPECT_NE(refusal({photo, photo}).find("given twice"), std::string::npos);
  EXPECT_NE(refusal(std::vector<DossierPhoto>(25, photo)).find("has 25 photos"), std::string::npos);
  EXPECT_NE(refusal({photo, Photo("departing.jpg")}, 0.00015).find("leaves 0.0075 %"),
            std::string::npos);
}

}  // namespace
}  // namespace debossier::report
