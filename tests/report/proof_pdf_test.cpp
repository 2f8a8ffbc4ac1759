// The proof sheet of a set, as poppler's pdftotext and pdfinfo see it.
#include "report/proof_pdf.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdio>
#include <filesystem>

#include "base/files.h"
#include "compare/drawn_poses.h"
#include "results/words.h"

namespace debossier::report {
namespace {

class ProofPdfTest : public ::testing::Test {
 protected:
  void SetUp() override {
    auto set = refset::LoadSet({DEBOSSIER_SOURCE}, "orbenna");
    ASSERT_TRUE(set) << set.error().ToString();
    demo_ = std::move(*set);
  }
  /// The demo's first items.
  refset::RefSet First(std::size_t items) const {
    refset::RefSet set = demo_;
    set.items.resize(items);
    return set;
  }
  refset::RefSet demo_;
  static std::string Text(const std::string& pdf) {
    const auto file =
        std::filesystem::path(testing::TempDir()) / ("proof-" + std::to_string(getpid()) + ".pdf");
    EXPECT_TRUE(WriteFileWhole(file, pdf, IfExists::kReplace, "test"));
    FILE* pipe = popen(("pdftotext -layout " + file.string() + " -").c_str(), "r");
    std::string text;
    char buffer[4096];
    for (std::size_t n; (n = fread(buffer, 1, sizeof buffer, pipe)) > 0;) text.append(buffer, n);
    pclose(pipe);
    std::filesystem::remove(file);
    return text;
  }
  static std::string Sheet(const refset::RefSet& set, const PdfOptions& options = {}) {
    const auto check = compare::CheckSet(set);
    EXPECT_TRUE(check);
    const auto pdf = ProofPdf(set, *check, options);
    EXPECT_TRUE(pdf) << (pdf ? "" : pdf.error().ToString());
    return pdf ? *pdf : "";
  }
};

TEST_F(ProofPdfTest, ShowsItemsFeaturesAndLimits) {
  const std::string text = Text(Sheet(demo_));
  for (const auto& item : demo_.items) {
    EXPECT_NE(text.find(item.id), std::string::npos);
    EXPECT_NE(text.find(item.photo_sha256.substr(0, 12)), std::string::npos);
  }
  const auto s = refset::StatisticsOf(demo_, "mark gap mark");
  EXPECT_NE(text.find(Fixed(s.mean, 4)), std::string::npos);
  EXPECT_NE(text.find(Fixed(s.deviation, 4)), std::string::npos);
  EXPECT_NE(text.find("gap to the mark ®"), std::string::npos);
  EXPECT_NE(text.find("No item stands out"), std::string::npos);
  EXPECT_NE(text.find("Demonstration"), std::string::npos);
  for (const std::string& caution : compare::Cautions()) {
    EXPECT_NE(text.find(caution.substr(0, 30)), std::string::npos) << caution;
  }
}

TEST_F(ProofPdfTest, SameBytesEveryTime) {
  EXPECT_EQ(Sheet(demo_), Sheet(demo_));
  PdfOptions letter;
  letter.paper = Paper::kLetter;
  EXPECT_NE(Sheet(demo_), Sheet(demo_, letter));
}

TEST_F(ProofPdfTest, NamesTheItemThatDoesNotBelong) {
  auto set = demo_;
  set.items[1].poses.at("mark").value[measure::kAlong] += 0.3;
  const std::string text = Text(Sheet(set));
  EXPECT_NE(text.find("Does not belong with the other items: item2"), std::string::npos);
  EXPECT_NE(text.find("an item that does not belong"), std::string::npos);
}

TEST_F(ProofPdfTest, SetsWithoutItemsAndWithHostileLabels) {
  auto set = First(0);
  set.labels.maker = "مصنع 皮革 Κατασκευή\n\x1b[31m";
  set.labels.notes = std::string(5000, 'x');
  EXPECT_NE(Text(Sheet(set)).find("0 verified items"), std::string::npos);
  set = First(2);
  set.items[0].basis = std::string(3000, 'w');
  set.items[1].photo_file = "<script>.jpg";
  EXPECT_NE(Text(Sheet(set)).find("<script>"), std::string::npos);
}

}  // namespace
}  // namespace debossier::report
