// A whole comparison of lettering with the card beside it: millimetres in the result, the reasons
// and the report.
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>

#include "card_photo.h"
#include "compare/compare_photo.h"
#include "report/overlay_pdf.h"
#include "results/result_json.h"
#include "support/json_schema.h"

namespace debossier::card {
namespace {

constexpr double kCapMm = 4.0;

image::Photo Photographed(const outline::Lettering& lettering) {
  test::Camera camera;
  camera.px_per_mm = 16;
  camera.size = cv::Size(1900, 1700);
  camera.tilt_deg = 9;
  camera.tilt_axis_deg = 20;
  camera.middle = Point(45, 42);
  test::Scene scene(camera, 0.05f, 3);
  scene.Lay(test::PrintedCard(), test::Laid({2, 4}));
  scene.Lay(test::DrawnFoil(lettering, kCapMm), test::Laid({25, 72}));
  std::vector<unsigned char> png;
  cv::imencode(".png", scene.Photograph({}), png);
  if (const char* keep = std::getenv("DEBOSSIER_KEEP_PHOTO")) {
    std::ofstream(keep, std::ios::binary)
        .write(reinterpret_cast<const char*>(png.data()), static_cast<std::streamsize>(png.size()));
  }
  auto photo = image::PhotoFromBytes(std::string(png.begin(), png.end()), "beside-card.png");
  EXPECT_TRUE(photo);
  return *std::move(photo);
}

TEST(CompareWithCard, SaysMillimetres) {
  const auto set = refset::LoadSet({DEBOSSIER_SOURCE}, "orbenna");
  ASSERT_TRUE(set) << set.error().ToString();
  outline::Lettering moved = set->lettering;
  for (auto& element : moved.elements) {
    // The last two letters of the wordmark stand a tenth of a cap height further right.
    if (element.id >= "wordmark.5" && element.id <= "wordmark.9") {
      outline::Affine shift;
      shift.offset = Point(0.1, 0);
      element.outline = outline::Transformed(element.outline, shift);
    }
  }
  const image::Photo photo = Photographed(moved);
  compare::CompareOptions options;
  options.scale.card = true;
  const auto compared = compare::ComparePhoto(photo, *set, options);
  ASSERT_TRUE(compared) << compared.error().ToString();
  ASSERT_TRUE(compared->scale && compared->scale->is_known());
  EXPECT_EQ(compared->scale->marks_seen, 11);
  EXPECT_NEAR(compared->scale->mm_per_cap_height.value, kCapMm, 0.01 * kCapMm);
  // 0.1 cap heights are 0.40 mm.
  EXPECT_EQ(compared->finding, compare::Finding::kDeparts);
  bool says = false;
  for (const auto& reason : compared->reasons) {
    says = says || reason.text.find("(0.40 mm)") != std::string::npos;
  }
  EXPECT_TRUE(says) << compared->summary;

  const auto json = nlohmann::json::parse(report::ResultJson(*compared));
  std::ifstream file(std::string(DEBOSSIER_SOURCE) + "/src/results/result.schema.json");
  EXPECT_TRUE(test_support::SchemaErrors(nlohmann::json::parse(file), json).empty());
  EXPECT_EQ(json["scale"]["method"], "card");
  EXPECT_EQ(json["scale"]["card"]["marks_seen"], 11);
  EXPECT_EQ(json["options"]["card"], "yes");
  EXPECT_TRUE(report::OverlayPdf(*compared, photo));

  // Nothing is looked for where nobody asks.
  const auto plain = compare::ComparePhoto(photo, *set);
  ASSERT_TRUE(plain);
  EXPECT_FALSE(plain->scale);
  EXPECT_EQ(report::ResultJson(*plain).find("\"scale\""), std::string::npos);
}

}  // namespace
}  // namespace debossier::card
