// The report as other programs see it: poppler's pdftotext, pdfinfo, pdfimages and pdftoppm.
#include "report/overlay_pdf.h"

#include <gtest/gtest.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <opencv2/imgcodecs.hpp>
#include <regex>

#include "base/files.h"
#include "compare/tell.h"
#include "drawing/embeddable.h"
#include "report/exhibits.h"
#include "results/words.h"
#include "support/pdf.h"
#include "support/sample_comparison.h"

namespace debossier::report {
namespace {

using compare::Finding;
using test_support::MakeSample;
using test_support::OutputOf;
using test_support::Sample;
using test_support::SampleOptions;

std::string Unspaced(const std::string& text) {
  std::string joined;
  for (const char c : text) {
    if (c != ' ' && c != '\n' && c != '\f') joined += c;
  }
  return joined;
}

int Count(const std::string& text, const std::string& part) {
  int count = 0;
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++count;
  return count;
}

class OverlayPdfTest : public testing::Test {
 protected:
  void SetUp() override {
    unsetenv("SOURCE_DATE_EPOCH");
    if (OutputOf("command -v pdftotext").empty()) GTEST_SKIP() << "poppler-utils is not installed";
    folder_ = std::filesystem::path(testing::TempDir()) /
              ("report-" + std::to_string(getpid()) + "-" +
               testing::UnitTest::GetInstance()->current_test_info()->name());
    std::filesystem::create_directories(folder_);
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  // Draws the report and keeps it as a file for the tools.
  std::string Draw(const Sample& sample, const PdfOptions& options = {}) {
    const Result<std::string> pdf = OverlayPdf(sample.comparison, sample.photo, options);
    EXPECT_TRUE(pdf) << (pdf ? "" : pdf.error().ToString());
    if (!pdf) return "";
    EXPECT_TRUE(WriteFileWhole(File(), *pdf, IfExists::kReplace, "test"));
    return *pdf;
  }
  std::string File() const { return (folder_ / "report.pdf").string(); }
  std::string Text(const std::string& options = "") const {
    return OutputOf("pdftotext " + options + " " + File() + " -");
  }
  std::string Info() const { return OutputOf("TZ=UTC pdfinfo -isodates " + File()); }
  // All objects as text.
  std::string Plain() const {
    return OutputOf("qpdf --qdf --object-streams=disable " + File() + " -");
  }
  int Pages() const {
    const std::string info = OutputOf("pdfinfo " + File());
    std::smatch match;
    return std::regex_search(info, match, std::regex("Pages:\\s+(\\d+)")) ? std::stoi(match[1]) : 0;
  }
  void ExpectEveryNumber(const compare::Comparison& c) const {
    const std::string text = Text("-layout");
    for (const compare::Feature& f : c.features) {
      // One row holds the label and its numbers in order.
      const std::string row = Unspaced(f.label + Value(f.value, f.unit) + "±" +
                                       Value(2 * f.u, f.unit) + RangeInWords(f));
      EXPECT_NE(Unspaced(text).find(row), std::string::npos) << row;
    }
    for (const compare::TriedSentence& s : c.sentences) {
      const std::string row =
          Unspaced(s.label + Value(s.amplitude, s.unit, true) + "±" + Value(2 * s.u, s.unit) +
                   Fixed(s.z, 1, true) + Fixed(s.level, 1) + OddsInWords(s.p, s.beyond) +
                   Value(s.limit, s.unit));
      EXPECT_NE(Unspaced(text).find(row), std::string::npos) << row;
    }
    const std::string words = Unspaced(Text());
    for (const compare::Reason& reason : c.reasons) {
      EXPECT_NE(words.find(Unspaced(reason.text)), std::string::npos) << reason.text;
    }
    for (const std::string& caution : compare::Cautions()) {
      EXPECT_NE(words.find(Unspaced(caution)), std::string::npos) << caution;
    }
    EXPECT_NE(text.find(c.photo.sha256), std::string::npos) << "the hash in one piece";
    for (const auto& [name, value] : c.options) EXPECT_NE(text.find(value), std::string::npos);
  }
  cv::Mat PageOne(int dpi = 60) const {
    const std::string base = (folder_ / "page").string();
    OutputOf("pdftoppm -r " + std::to_string(dpi) + " -f 1 -l 1 -singlefile -png " + File() + " " +
             base);
    return cv::imread(base + ".png");
  }

 private:
  std::filesystem::path folder_;
};

Sample SampleWith(Finding finding) {
  SampleOptions options;
  options.finding = finding;
  return MakeSample(options);
}

TEST_F(OverlayPdfTest, EmbedsTheJpegOnceAndUnchanged) {
  const Sample sample = MakeSample();
  const std::string pdf = Draw(sample);
  EXPECT_EQ(Count(pdf, sample.photo.bytes), 1);
  EXPECT_LT(pdf.size(), sample.photo.bytes.size() + 1'500'000);
  EXPECT_EQ(Count(OutputOf("pdfimages -list " + File()), "jpeg"),
            Count(OutputOf("pdfimages -list " + File()), "image"));
}

TEST_F(OverlayPdfTest, SameBytesOnEveryRun) {
  const Sample sample = MakeSample();
  const std::string once = Draw(sample);
  Draw(SampleWith(Finding::kNoDepartureFound));  // other fonts and pictures in between
  EXPECT_TRUE(once == Draw(sample));
  EXPECT_EQ(Info().find("CreationDate"), std::string::npos) << "a date without SOURCE_DATE_EPOCH";
}

TEST_F(OverlayPdfTest, DateComesFromTheEnvironment) {
  const Sample sample = MakeSample();
  // 1700000000 is 2023-11-14 22:13:20 UTC (date -u -d @1700000000).
  setenv("SOURCE_DATE_EPOCH", "1700000000", 1);
  Draw(sample);
  EXPECT_NE(Info().find("2023-11-14T22:13:20Z"), std::string::npos) << Info();
  setenv("SOURCE_DATE_EPOCH", "yesterday", 1);
  Draw(sample);
  EXPECT_EQ(Info().find("CreationDate"), std::string::npos);
  unsetenv("SOURCE_DATE_EPOCH");
}

TEST_F(OverlayPdfTest, EveryNumberCanBeFound) {
  const Sample sample = MakeSample();
  PdfOptions options;
  // The usual font, and a narrower one where it is installed.
  for (const std::string& family : {options.font_family, std::string("Nimbus Sans")}) {
    SCOPED_TRACE(family);
    options.font_family = family;
    Draw(sample, options);
    ExpectEveryNumber(sample.comparison);
  }
}

TEST_F(OverlayPdfTest, PageOneAnswers) {
  const std::pair<Finding, const char*> headlines[] = {
      {Finding::kDeparts, "Departs"},
      {Finding::kNoDepartureFound, "No departure found"},
      {Finding::kCannotTell, "Cannot tell"}};
  for (const auto& [finding, headline] : headlines) {
    const Sample sample = SampleWith(finding);
    Draw(sample);
    const std::string page = Text("-f 1 -l 1");
    EXPECT_NE(page.find("Lettering comparison"), std::string::npos);
    EXPECT_NE(page.find(std::string("\n") + headline + "\n"), std::string::npos) << page;
    EXPECT_NE(Unspaced(page).find(Unspaced(sample.comparison.summary)), std::string::npos);
    EXPECT_NE(Unspaced(page).find(
                  Unspaced("Talvenne, 1968 to 1974: set talvenne-wallets-1968, revision 3")),
              std::string::npos)
        << page;
    EXPECT_NE(page.find("What this does not prove"), std::string::npos);
    for (const std::string& advice : sample.comparison.advice) {
      EXPECT_NE(Unspaced(page).find(Unspaced(advice)), std::string::npos) << advice;
    }
  }
}

// What is seen first: both letterings as photographs, the verified one named.
TEST_F(OverlayPdfTest, PageOneShowsAVerifiedItem) {
  const Sample sample = MakeSample();
  const auto& c = sample.comparison;
  VerifiedPicture verified;
  verified.item = "item9";
  verified.picture = Straighten(255 - sample.photo.bgr, c.measured.placement,
                                Grown(outline::Bounds(c.reference), kGroundAbout), 80);
  const auto pdf = OverlayPdf(c, sample.photo, {}, &verified);
  ASSERT_TRUE(pdf);
  ASSERT_TRUE(WriteFileWhole(File(), *pdf, IfExists::kReplace, "test"));
  const std::string with = Unspaced(Text("-f 1 -l 1"));
  EXPECT_NE(with.find("Averifieditemoftheset(item9),atthesamescale"), std::string::npos);
  EXPECT_EQ(Count(*pdf, "/DCTDecode"), 3) << "the photo and both letterings, once each";
  const cv::Mat shown = PageOne();
  Draw(sample);
  EXPECT_NE(Unspaced(Text("-f 1 -l 1")).find("theirmeanoutline,drawn"), std::string::npos);
  cv::Mat apart;
  cv::absdiff(shown, PageOne(), apart);
  EXPECT_GT(cv::mean(apart)[0], 2) << "the picture is there";
}

// A departure that has a length says it, and what verified items show, beside its figure.
TEST_F(OverlayPdfTest, DeparturesHaveTheirLengths) {
  const Sample sample = MakeSample();
  Draw(sample);
  const std::string text = Unspaced(Text());
  int with_length = 0;
  for (const auto& reason : sample.comparison.reasons) {
    const auto* f = compare::FeatureOf(sample.comparison, reason);
    if (f == nullptr) continue;
    ++with_length;
    const std::string words =
        "thisitem" + Value(f->value, f->unit) + "±" + Value(2 * f->u, f->unit) + ",verified";
    EXPECT_NE(text.find(Unspaced(words + RangeInWords(*f))), std::string::npos) << words;
  }
  EXPECT_GT(with_length, 0);
}

// ISO/IEC 17025:2017, 7.8.2.1: d unique identification and a clear end, e customer, h and i dates,
// l results of what was examined alone, o who answers for it. What is not given is not guessed.
TEST_F(OverlayPdfTest, HoldsWhatALaboratoryReports) {
  const Sample sample = MakeSample();
  PdfOptions options;
  options.fields = {"N-1042",     "Ательє Орбенна", "M. Okonjo",
                    "Velden",     "a wallet",       "2026-11-01",
                    "2026-11-02", "2026-11-03",     "the lining was replaced"};
  Draw(sample, options);
  const std::string text = Text();
  EXPECT_EQ(Count(text, "report N-1042 ·"), Pages()) << "on every page";
  for (const FieldName& field : FieldNames()) {
    EXPECT_NE(text.find(options.fields.*(field.value)), std::string::npos) << field.name;
  }
  EXPECT_NE(Unspaced(text).find("relatesonlytothephotographsexamined"), std::string::npos);
  EXPECT_EQ(Count(text, "End of report N-1042."), 1);
  Draw(sample);
  EXPECT_EQ(Count(Text(), "Okonjo"), 0);
  EXPECT_EQ(Count(Text(), "2026"), 0);
}

TEST_F(OverlayPdfTest, EveryPageSaysWhereItComesFromAndWhetherItIsSimulated) {
  Sample sample = MakeSample();
  Draw(sample);
  const int pages = Pages();
  EXPECT_EQ(Count(Text(), "the maker is invented, and the photos of the set are simulated."),
            pages);
  for (int i = 1; i <= pages; ++i) {
    const std::string footer = "page " + std::to_string(i) + " of " + std::to_string(pages);
    EXPECT_EQ(Count(Text("-f " + std::to_string(i) + " -l " + std::to_string(i)), footer), 1);
  }
  sample.comparison.refset_simulated = false;
  Draw(sample);
  EXPECT_EQ(Count(Text(), "invented"), 0);
}

TEST_F(OverlayPdfTest, HasTitleBookmarksAndStructure) {
  Draw(MakeSample());
  const std::string info = Info();
  EXPECT_NE(info.find("Lettering comparison: intake-0417.jpg"), std::string::npos) << info;
  EXPECT_EQ(info.find("Author"), std::string::npos) << info;
  EXPECT_TRUE(std::regex_search(info, std::regex("Tagged:\\s+yes"))) << info;
  if (OutputOf("command -v qpdf").empty()) GTEST_SKIP() << "qpdf is not installed";
  for (const char* bookmark : {"(Finding)", "(Measurements)", "(Provenance)"}) {
    EXPECT_NE(Plain().find(bookmark), std::string::npos) << bookmark;
  }
}

// The eight EXIF orientations show the same upright photo; JPEG blocks differ a little.
TEST_F(OverlayPdfTest, PicturesHaveWordsAndTheDocumentALanguage) {
  if (OutputOf("command -v qpdf").empty()) GTEST_SKIP() << "qpdf is not installed";
  Sample sample = MakeSample();
  sample.comparison.photo.file = "Тальвен (1).jpg";
  Draw(sample);
  EXPECT_NE(OutputOf("qpdf --check " + File()).find("No syntax or stream encoding errors"),
            std::string::npos);
  const std::string plain = Plain();
  EXPECT_GT(Count(plain, "/S /Figure"), 5);
  EXPECT_EQ(Count(plain, "/Alt "), Count(plain, "/S /Figure"));
  EXPECT_NE(plain.find("/Alt (Verified items, at the same scale: their mean outline, drawn"),
            std::string::npos);
  // UTF-16, big-endian, of "Тальвен" (ISO 32000-1:2008, 7.9.2.2).
  EXPECT_NE(plain.find("04220430043b044c04320435043d"), std::string::npos);
  EXPECT_NE(plain.find("/Lang (en)"), std::string::npos);
  EXPECT_NE(plain.find("/DisplayDocTitle true"), std::string::npos);
  EXPECT_NE(plain.find("/ID ["), std::string::npos);
}

TEST_F(OverlayPdfTest, UndoesTheExifTurn) {
  Draw(MakeSample());
  const cv::Mat expected = PageOne();
  ASSERT_FALSE(expected.empty());
  for (int orientation = 2; orientation <= 8; ++orientation) {
    SampleOptions options;
    options.exif_orientation = orientation;
    const Sample sample = MakeSample(options);
    EXPECT_EQ(Count(Draw(sample), sample.photo.bytes), 1);
    cv::Mat page = PageOne();
    // The file name's hash in the footer differs.
    cv::Mat difference;
    cv::absdiff(expected.rowRange(0, expected.rows * 9 / 10), page.rowRange(0, page.rows * 9 / 10),
                difference);
    EXPECT_LT(cv::mean(difference)[0], 2.0) << "orientation " << orientation;
  }
}

// The wordmark is larger than the origin line below it: upright, more gold lies in the upper half.
TEST_F(OverlayPdfTest, LetteringReadsUpright) {
  for (const double turn : {0.0, 90.0, 183.0, 270.0}) {
    SampleOptions options;
    options.finding = Finding::kNoDepartureFound;
    options.turn_deg = turn;
    Draw(MakeSample(options));
    const cv::Mat page = PageOne();
    ASSERT_FALSE(page.empty());
    std::vector<int> gold_rows;
    for (int y = 0; y < page.rows; ++y) {
      for (int x = 0; x < page.cols; ++x) {
        const auto& p = page.at<cv::Vec3b>(y, x);
        if (p[2] > 150 && p[1] > 110 && p[0] < 110) gold_rows.push_back(y);
      }
    }
    ASSERT_GT(gold_rows.size(), 500u) << "turn " << turn;
    const int middle = (gold_rows.front() + gold_rows.back()) / 2;
    const auto above =
        std::count_if(gold_rows.begin(), gold_rows.end(), [&](int y) { return y < middle; });
    EXPECT_GT(above, 0.6 * static_cast<double>(gold_rows.size())) << "turn " << turn;
    EXPECT_GT(gold_rows.back() - gold_rows.front(), page.rows / 12) << "turn " << turn;
  }
}

TEST_F(OverlayPdfTest, DrawsOtherFormatsFromTheirPixels) {
  SampleOptions options;
  Draw(MakeSample(options));
  const cv::Mat expected = PageOne();
  options.extension = ".png";
  const Sample png = MakeSample(options);
  EXPECT_FALSE(CanEmbedFile(png.photo));
  const std::string pdf = Draw(png);
  EXPECT_EQ(Count(pdf, "/DCTDecode"), 1) << "the straightened lettering alone";
  cv::Mat difference;
  const cv::Mat page = PageOne();
  cv::absdiff(expected.rowRange(0, expected.rows * 9 / 10), page.rowRange(0, page.rows * 9 / 10),
              difference);
  EXPECT_LT(cv::mean(difference)[0], 2.0);
}

// No PDF reader decodes HEIC; its pixels go in as JPEG and stay small however noisy they are.
TEST_F(OverlayPdfTest, DrawsHeicFromJpegsOfItsPixels) {
  SampleOptions options;
  Draw(MakeSample(options));
  const cv::Mat expected = PageOne();
  options.extension = ".png";
  Sample sample = MakeSample(options);
  sample.photo.header.format = image::Format::kHeic;
  EXPECT_FALSE(CanEmbedFile(sample.photo));
  EXPECT_EQ(Count(Draw(sample), "/DCTDecode"), 3)
      << "the part around the lettering, straightened and as it is, and the whole";
  cv::Mat difference;
  const cv::Mat page = PageOne();
  cv::absdiff(expected.rowRange(0, expected.rows * 9 / 10), page.rowRange(0, page.rows * 9 / 10),
              difference);
  EXPECT_LT(cv::mean(difference)[0], 3.0);

  cv::RNG random(3);
  random.fill(sample.photo.bgr, cv::RNG::UNIFORM, 0, 255);
  EXPECT_LT(Draw(sample).size(), 1'500'000u);
}

TEST_F(OverlayPdfTest, EmbedsOnlyJpegKindsThatReadersAgreeOn) {
  SampleOptions options;
  options.grey = true;
  Sample sample = MakeSample(options);
  EXPECT_TRUE(CanEmbedFile(sample.photo));
  EXPECT_EQ(Count(Draw(sample), sample.photo.bytes), 1);

  sample = MakeSample();
  const auto frame = sample.photo.bytes.find("\xFF\xC0");  // ITU-T T.81 table B.1: SOF0
  ASSERT_NE(frame, std::string::npos);
  const auto with = [&](std::size_t offset, char value) {
    image::Photo photo = sample.photo;
    photo.bytes[frame + offset] = value;
    return CanEmbedFile(photo);
  };
  EXPECT_TRUE(with(1, '\xC2')) << "progressive";
  EXPECT_FALSE(with(1, '\xC3')) << "lossless";
  EXPECT_FALSE(with(1, '\xC9')) << "arithmetic coding";
  EXPECT_FALSE(with(4, 12)) << "12 bits";
  EXPECT_FALSE(with(9, 4)) << "four components";
  EXPECT_FALSE(with(5, 1)) << "another height than the photo's";
  image::Photo cut = sample.photo;
  cut.bytes.resize(frame + 5);
  EXPECT_FALSE(CanEmbedFile(cut));
  // What cannot be embedded is still drawn.
  sample.photo.bytes[frame + 9] = 4;
  EXPECT_EQ(Count(Draw(sample), "/DCTDecode"), 1);
}

TEST_F(OverlayPdfTest, WorksWithNothingFoundAndWithVeryMuch) {
  Draw(test_support::MakeEmptySample());
  EXPECT_GE(Pages(), 3);
  EXPECT_NE(Text().find("Nothing could be measured on this photo."), std::string::npos);

  Sample sample = SampleWith(Finding::kNoDepartureFound);
  sample.comparison.reasons.clear();
  sample.comparison.features.clear();
  Draw(sample);
  EXPECT_GE(Pages(), 3);

  const Sample crowded = test_support::MakeCrowdedSample(200);
  Draw(crowded);
  const std::string text = Text("-layout");
  for (const auto& feature : crowded.comparison.features) {
    EXPECT_NE(text.find(feature.label), std::string::npos) << feature.label;
  }
  EXPECT_NE(Unspaced(Text()).find("moredepartingelements"), std::string::npos);
}

// A line in the wrong case, a letter that is another, a frame that is not there: no numbers.
TEST_F(OverlayPdfTest, ShowsDeparturesThatHaveNoNumbers) {
  Sample sample = MakeSample();
  compare::Comparison& c = sample.comparison;
  for (compare::Feature& feature : c.features) feature.departs = false;
  c.measured.elements[1].found = false;
  const auto reason = [](std::string measure, std::string element, std::string text) {
    compare::Reason r;
    r.measure = std::move(measure);
    r.elements = {std::move(element)};
    r.unit = "category";
    r.text = std::move(text);
    return r;
  };
  c.reasons = {reason("case", "origin", "The origin line is set in small letters."),
               reason("letterform", "wordmark.1", "Another letter stands in the place of A."),
               reason("frame", "frame", "There is no oval.")};
  Draw(sample);
  const std::string text = Text();
  EXPECT_GE(Count(text, "Another letter stands in the place of A."), 2) << "page one and its plate";
  EXPECT_EQ(Count(text, "\nA (wordmark.1)"), 1) << "the title of its plate";
  EXPECT_GE(Count(text, "not found"), 1);
  EXPECT_GE(Count(text, "departs"), 13) << "each letter of the origin line";
  EXPECT_EQ(Count(text, "(k = 2); verified"), 0);
}

TEST_F(OverlayPdfTest, SurvivesPlacementsThatCannotBeDrawn) {
  for (const double value : {0.0, 1e-9, 1e12, std::nan("")}) {
    Sample sample = MakeSample();
    sample.comparison.measured.placement.photo_from_stamp.topRows<2>().setConstant(value);
    Draw(sample);
    EXPECT_GE(Pages(), 3) << value;
  }
  Sample sample = MakeSample();
  sample.comparison.measured.elements.resize(3);
  sample.comparison.reasons[0].elements = {"nowhere.7"};
  sample.comparison.features[0].departs = true;
  sample.comparison.features[0].elements = {"wordmark.7", "nowhere.7"};
  sample.comparison.reference.lines.clear();
  Draw(sample);
  EXPECT_GE(Pages(), 3);
}

TEST_F(OverlayPdfTest, LabelsInAnyScriptStayOnThePage) {
  Sample sample = MakeSample();
  compare::Comparison& c = sample.comparison;
  c.refset_maker = "Ταλβένν Талвенне 塔尔文 تالفين";
  c.refset_period = std::string(300, 'w') + " and later";
  c.photo.file = std::string(500, 'x') + "\xFF\x1b\n.jpg";
  c.options.emplace_back(std::string(90, 'n'), std::string(900, 'v'));
  c.features[0].label = "gap " + std::string(200, 'A');
  c.reasons[0].text = "A long reason: " + std::string(3000, 'z');
  c.summary += std::string(2000, 's');
  c.measured.warnings.push_back({"fit", std::string(200, 'e'), std::string(200, 'm')});
  for (const Paper paper : {Paper::kA4, Paper::kLetter}) {
    PdfOptions options;
    options.paper = paper;
    Draw(sample, options);
    const std::string text = Text();
    EXPECT_NE(text.find("Ταλβένν Талвенне"), std::string::npos);
    EXPECT_GT(test_support::WordsWithinMargins(Text("-bbox")), 1000);
    // The usual face has no Chinese: another one is embedded for it, where one is installed.
    if (OutputOf("fc-list :lang=zh-cn").empty()) continue;
    EXPECT_TRUE(std::regex_search(OutputOf("pdffonts " + File()),
                                  std::regex("\\+(?!DejaVu)[^\n]* yes yes yes")));
  }
}

}  // namespace
}  // namespace debossier::report
