// Tables in and out, held against RFC 4180, and base64 against RFC 4648.
#include "batch/csv.h"

#include <gtest/gtest.h>

namespace debossier::batch {
namespace {

using Fields = std::vector<std::string>;

std::vector<Fields> Parsed(const std::string& text) {
  const auto records = ParseCsv(text, "m.csv");
  EXPECT_TRUE(records) << (records ? "" : records.error().ToString());
  std::vector<Fields> all;
  if (records) {
    for (const auto& record : *records) all.push_back(record.fields);
  }
  return all;
}

std::string Refused(const std::string& text) {
  const auto records = ParseCsv(text, "m.csv");
  EXPECT_FALSE(records) << text;
  if (records) return "";
  EXPECT_EQ(records.error().code, ErrorCode::kManifestUnsound);
  return records.error().ToString();
}

// RFC 4180, section 2, items 1 to 7: the examples as printed there.
TEST(CsvTest, ExamplesOfRfc4180) {
  const std::vector<Fields> plain = {{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}};
  EXPECT_EQ(Parsed("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"), plain);
  EXPECT_EQ(Parsed("aaa,bbb,ccc\r\nzzz,yyy,xxx"), plain);
  EXPECT_EQ(Parsed("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx"), plain);
  EXPECT_EQ(Parsed("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx"),
            (std::vector<Fields>{{"aaa", "b\r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}));
  EXPECT_EQ(Parsed("\"aaa\",\"b\"\"bb\",\"ccc\""), (std::vector<Fields>{{"aaa", "b\"bb", "ccc"}}));
  // Item 4: spaces are part of a field.
  EXPECT_EQ(Parsed("a , b"), (std::vector<Fields>{{"a ", " b"}}));
}

TEST(CsvTest, LineEndsEmptyLinesAndByteOrderMark) {
  const std::vector<Fields> two = {{"a", ""}, {"b", "c"}};
  for (const char* end : {"\n", "\r", "\r\n"}) {
    EXPECT_EQ(Parsed(std::string("\xEF\xBB\xBF") + "a," + end + end + "b,c" + end), two);
  }
}

TEST(CsvTest, LinesAreCountedThroughQuotedLineEnds) {
  const auto records = ParseCsv("h\n\"one\ntwo\"\r\n\"x\r\ny\"\nlast\n", "m.csv");
  ASSERT_TRUE(records);
  ASSERT_EQ(records->size(), 4u);
  EXPECT_EQ((*records)[1].line, 2);
  EXPECT_EQ((*records)[2].line, 4);
  EXPECT_EQ((*records)[3].line, 6);
}

TEST(CsvTest, MistakesNameTheirLine) {
  EXPECT_NE(Refused("a\nb\n\"c").find("line 3 opens a quote"), std::string::npos);
  EXPECT_NE(Refused("a\nb\"c\n").find("line 2 has a quote inside"), std::string::npos);
  EXPECT_NE(Refused("a\n\"b\"c\n").find("line 2 has text after"), std::string::npos);
  EXPECT_NE(Refused("a\nb\n\xff\n").find("line 3 is not UTF-8"), std::string::npos);
  EXPECT_NE(Refused("photo;set\n").find("semicolons"), std::string::npos);
  EXPECT_NE(Refused(std::string("\xFF\xFEp\0", 4)).find("UTF-16"), std::string::npos);
  EXPECT_NE(Refused("a\n" + std::string(20'000, 'x')).find("line 2"), std::string::npos);
  EXPECT_NE(Refused(std::string(200, ',')).find("line 1"), std::string::npos);
}

TEST(CsvTest, WhatIsWrittenIsReadAgain) {
  const Fields fields = {"plain", "", "a,b", "say \"x\"", "two\r\nlines", " space ", "ü"};
  EXPECT_EQ(Parsed(CsvLine(fields)), std::vector<Fields>{fields});
}

TEST(CsvTest, FormulasStayText) {
  for (const char* text : {"=1+1", "+1", "-1", "@SUM(A1)"}) {
    EXPECT_EQ(NoFormula(text), std::string("'").append(text));
  }
  EXPECT_EQ(NoFormula("a=b"), "a=b");
  EXPECT_EQ(NoFormula(""), "");
}

}  // namespace
}  // namespace debossier::batch
