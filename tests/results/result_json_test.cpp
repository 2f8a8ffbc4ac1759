#include "results/result_json.h"

#include <gtest/gtest.h>

#include <clocale>
#include <cmath>
#include <fstream>
#include <limits>
#include <sstream>

#include "support/json_schema.h"
#include "support/sample_comparison.h"

namespace debossier::report {
namespace {

using compare::Finding;
using nlohmann::json;
using test_support::MakeSample;
using test_support::Sample;
using test_support::SampleOptions;

json Schema() {
  std::ifstream file(std::string(DEBOSSIER_SOURCE) + "/src/results/result.schema.json");
  return json::parse(file);
}

json Parsed(const compare::Comparison& comparison) { return json::parse(ResultJson(comparison)); }

std::string Joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines) text += line + "\n";
  return text;
}

Sample SampleWith(Finding finding) {
  SampleOptions options;
  options.finding = finding;
  return MakeSample(options);
}

TEST(ResultJson, FollowsItsSchema) {
  const json schema = Schema();
  for (const Finding finding :
       {Finding::kDeparts, Finding::kNoDepartureFound, Finding::kCannotTell}) {
    const auto errors = test_support::SchemaErrors(schema, Parsed(SampleWith(finding).comparison));
    EXPECT_TRUE(errors.empty()) << Joined(errors);
  }
  for (const Sample& sample :
       {test_support::MakeEmptySample(), test_support::MakeCrowdedSample(30)}) {
    const auto errors = test_support::SchemaErrors(schema, Parsed(sample.comparison));
    EXPECT_TRUE(errors.empty()) << Joined(errors);
  }
}

TEST(ResultJson, SchemaNoticesWhatReadersRelyOn) {
  const json schema = Schema();
  const json good = Parsed(MakeSample().comparison);
  const auto broken = [&](auto&& change) {
    json copy = good;
    change(copy);
    return !test_support::SchemaErrors(schema, copy).empty();
  };
  EXPECT_FALSE(broken([](json&) {}));
  EXPECT_TRUE(broken([](json& j) { j["finding"] = "genuine"; }));
  EXPECT_TRUE(broken([](json& j) { j["version"] = 1; }));
  EXPECT_TRUE(broken([](json& j) { j.erase("gain"); }));
  EXPECT_TRUE(broken([](json& j) { j["lines"][0]["case"] = "upper"; }));
  EXPECT_TRUE(broken([](json& j) { j["elements"][3]["box"].erase(0); }));
  EXPECT_TRUE(broken([](json& j) { j["gaps"][0]["value"] = "0.1"; }));
  EXPECT_TRUE(broken([](json& j) { j["hypotheses"][0]["p"] = 1.5; }));
}

TEST(ResultJson, KeysStandInTheDocumentedOrder) {
  const auto document = nlohmann::ordered_json::parse(ResultJson(MakeSample().comparison));
  std::vector<std::string> keys;
  for (const auto& [key, unused] : document.items()) keys.push_back(key);
  const std::vector<std::string> first = {"format", "version", "photo",
                                          "refset", "program", "finding"};
  ASSERT_GE(keys.size(), first.size());
  EXPECT_TRUE(std::equal(first.begin(), first.end(), keys.begin())) << Joined(keys);
}

TEST(ResultJson, SaysWhatTheComparisonSays) {
  const Sample sample = MakeSample();
  const compare::Comparison& c = sample.comparison;
  const json j = Parsed(c);
  EXPECT_EQ(j["finding"], "departs");
  EXPECT_EQ(j["photo"]["sha256"], sample.photo.sha256);
  EXPECT_TRUE(j["photo"]["focal_length_35mm"].is_null());
  compare::Comparison told = c;
  told.photo.focal_length_35mm = 26;
  EXPECT_EQ(Parsed(told)["photo"]["focal_length_35mm"], 26);
  EXPECT_EQ(j["refset"]["revision"], 3);
  EXPECT_EQ(j["reasons"].size(), c.reasons.size());
  EXPECT_EQ(j["features"].size(), c.features.size());
  ASSERT_EQ(j["hypotheses"].size(), c.sentences.size());
  EXPECT_EQ(j["hypotheses"][0]["sentence"], c.sentences[0].text);
  EXPECT_EQ(j["hypotheses"][0]["key"], c.sentences[0].key);
  EXPECT_EQ(j["elements"].size(), 22u);
  EXPECT_EQ(j["elements"][21]["id"], "mark");
  EXPECT_EQ(j["elements"][21]["char"], "®");
  EXPECT_EQ(j["elements"][8]["id"], "origin.0");
  EXPECT_EQ(j["elements"][8]["line"], "origin");
  EXPECT_EQ(j["lines"][1]["case"], "capitals");
  EXPECT_TRUE(j["lines"][1]["x_height"].is_null()) << "a line of capitals has no x-height";
  EXPECT_NEAR(j["mark"]["gap"].get<double>(), c.measured.mark.gap.value, 1e-6);
  EXPECT_EQ(j["cautions"].size(), compare::Cautions().size());
  for (std::size_t i = 0; i < c.features.size(); ++i) {
    EXPECT_NEAR(j["features"][i]["value"].get<double>(), c.features[i].value,
                5.1e-6 * std::abs(c.features[i].value));
  }
  for (const json& gap : j["gaps"]) {
    EXPECT_TRUE(gap["expected"].is_number()) << gap;
    EXPECT_EQ(gap["spread"], 0.0031);
  }
  EXPECT_TRUE(j["detection_limits"]["gap"].is_number());
  EXPECT_FALSE(j["detection_limits"].contains("tracking"))
      << "the photo cannot tell it as small as the set asks";
}

TEST(ResultJson, NumbersHaveSixDigitsAndAreFinite) {
  Sample sample = MakeSample();
  compare::Comparison& c = sample.comparison;
  c.score = 1.0 / 3;
  c.reasons[1].p = 1.23456789e-12;
  c.reasons[1].value = -0.0;
  c.features[0].z = std::numeric_limits<double>::infinity();
  c.features[1].value = std::numeric_limits<double>::quiet_NaN();
  const std::string text = ResultJson(c);
  EXPECT_NE(text.find("\"score\": 0.333333,"), std::string::npos);
  EXPECT_NE(text.find("\"p\": 1.23457e-12,"), std::string::npos);
  EXPECT_EQ(text.find("-0.0,"), std::string::npos);
  const json j = json::parse(text);
  EXPECT_TRUE(j["features"][0]["z"].is_null());
  EXPECT_TRUE(j["features"][1]["value"].is_null());
  EXPECT_TRUE(test_support::SchemaErrors(Schema(), j).empty());
}

TEST(ResultJson, ElementsThatWereNotFoundHaveNoNumbers) {
  Sample sample = MakeSample();
  sample.comparison.measured.elements[2].found = false;
  sample.comparison.measured.elements[2].in_place = true;
  sample.comparison.measured.elements[3].found = false;
  sample.comparison.measured.elements[3].cut = true;
  sample.comparison.measured.mark.found = false;
  const json j = Parsed(sample.comparison);
  EXPECT_TRUE(j["elements"][2]["box"].is_null());
  EXPECT_TRUE(j["elements"][2]["quad_px"].is_null());
  EXPECT_TRUE(j["elements"][2]["height_ratio"].is_null());
  EXPECT_TRUE(j["mark"]["gap"].is_null());
  EXPECT_EQ(j["elements"][1]["seen"], "measured");
  EXPECT_EQ(j["elements"][2]["seen"], "in-place");
  EXPECT_EQ(j["elements"][3]["seen"], "cut");
  EXPECT_TRUE(test_support::SchemaErrors(Schema(), j).empty());
}

TEST(ResultJson, DamagedTextStaysValidUtf8) {
  Sample sample = MakeSample();
  sample.comparison.photo.file = "wallet\xFF\xC3.jpg";
  sample.comparison.refset_maker = "Ταλβέν \"\\\n";
  const json j = Parsed(sample.comparison);
  EXPECT_EQ(j["photo"]["file"], "wallet\uFFFD\uFFFD.jpg");
  EXPECT_EQ(j["refset"]["maker"], "Ταλβέν \"\\\n");
}

TEST(ResultJson, SameBytesEachTimeAndInAnyLocale) {
  const compare::Comparison comparison = MakeSample().comparison;
  const std::string once = ResultJson(comparison);
  EXPECT_EQ(once.back(), '\n');
  EXPECT_EQ(once, ResultJson(comparison));
  const std::string before = std::setlocale(LC_ALL, nullptr);
  for (const char* locale : {"de_DE.UTF-8", "fr_FR.UTF-8", "C.UTF-8"}) {
    if (std::setlocale(LC_ALL, locale) == nullptr) continue;
    EXPECT_EQ(once, ResultJson(comparison)) << locale;
  }
  std::setlocale(LC_ALL, before.c_str());
}

}  // namespace
}  // namespace debossier::report
