// Millimetres at the stamp: by the card, by a rectangle's corners, by two points; what goes wrong
// with a card and what the result says then.
#include "card/scale.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>

#include "card_photo.h"
#include "fit/place_lettering.h"
#include "support/stamp_photo.h"

namespace debossier::card {
namespace {

using test::Camera;
using test::Laid;
using test::OnTable;
using test::Scene;
using test::Sheet;

constexpr double kCapMm = 4.2;

/// Lettering on the table above the card, as a placement that is exactly true.
struct Stamp {
  outline::Lettering lettering = test::DrawnLettering({{"ORBENNA", 1.0}});
  OnTable on_table = Laid({25, 78});

  fit::Placement Placed(const Camera& camera) const {
    std::vector<PlanePoint> points;
    for (const Point& p : {Point(0, 0), Point(6, 0), Point(6, 1), Point(0, 1), Point(3, 2)}) {
      points.push_back({p, camera.ToPhoto(on_table(kCapMm * Point(p.x(), -p.y()))), 1});
    }
    fit::Placement placement;
    placement.photo_from_stamp = FitPlane(points)->photo_from_plane;
    return placement;
  }
};

double ErrorOf(const Scale& scale) { return scale.mm_per_cap_height.value / kCapMm - 1; }

bool Says(const std::vector<Warning>& warnings, const std::string& word) {
  return std::any_of(warnings.begin(), warnings.end(),
                     [&](const Warning& w) { return w.message.find(word) != std::string::npos; });
}

bool Says(const std::vector<std::string>& limits, const std::string& word) {
  return std::any_of(limits.begin(), limits.end(), [&](const std::string& limit) {
    return limit.find(word) != std::string::npos;
  });
}

class ScaleOf : public ::testing::Test {
 protected:
  ScaleOf() {
    camera_.tilt_deg = 15;
    camera_.tilt_axis_deg = 70;
    camera_.turn_deg = -8;
    camera_.middle = Point(45, 42);
    by_card_.card = true;
  }
  Scale Measure(const ScaleOptions& options, const Sheet& sheet, const OnTable& card,
                StampShape shape = StampShape::kKnown) const {
    Scene scene(camera_);
    scene.Lay(sheet, card);
    return Measure(options, scene, shape);
  }
  Scale Measure(const ScaleOptions& options, const Scene& scene,
                StampShape shape = StampShape::kKnown) const {
    EXPECT_TRUE(options.Check());
    EXPECT_TRUE(options.CheckWithin(camera_.size));
    const fit::Placement placement = stamp_.Placed(camera_);
    return FindScale(scene.Photograph({}), camera_.focal_length_35mm(),
                     {placement, outline::Bounds(stamp_.lettering), shape}, options);
  }
  Point Photo(const Point& table) const { return camera_.ToPhoto({table.x(), table.y(), 0}); }

  Camera camera_;
  Stamp stamp_;
  ScaleOptions by_card_;
};

TEST_F(ScaleOf, TheCardBesideTheStamp) {
  const Scale scale = Measure(by_card_, test::PrintedCard(), Laid({2, 4}));
  ASSERT_EQ(scale.method, ScaleMethod::kCard);
  EXPECT_LT(std::abs(ErrorOf(scale)), 0.001);
  EXPECT_NEAR(scale.along_mm, kCapMm, 0.002 * kCapMm);
  EXPECT_NEAR(scale.across_mm, kCapMm, 0.002 * kCapMm);
  EXPECT_TRUE(scale.warnings.empty()) << scale.warnings[0].message;
  EXPECT_TRUE(Says(scale.limits, "not checked"));
  EXPECT_TRUE(Says(scale.limits, "lies as high"));
  // Print 0.5 %, height 0.3 mm in 260 mm: 0.12 %.
  EXPECT_GT(scale.mm_per_cap_height.u, 0.005 * kCapMm);
  EXPECT_LT(scale.mm_per_cap_height.u, 0.008 * kCapMm);
  EXPECT_NEAR(scale.px_per_mm, camera_.px_per_mm, 2);
}

TEST_F(ScaleOf, ACheckedPrintOfTheWrongSizeIsCorrected) {
  Sheet sheet = test::PrintedCard();
  constexpr double kPrinted = 0.965;
  sheet.texels_per_mm /= kPrinted;
  sheet.corner *= kPrinted;
  const Scale unchecked = Measure(by_card_, sheet, Laid({2, 4}));
  EXPECT_NEAR(ErrorOf(unchecked), 1 / kPrinted - 1, 0.002);
  EXPECT_TRUE(Says(unchecked.limits, "not checked"));
  ScaleOptions checked = by_card_;
  checked.card_check_mm = 100 * kPrinted;
  const Scale corrected = Measure(checked, sheet, Laid({2, 4}));
  EXPECT_LT(std::abs(ErrorOf(corrected)), 0.001);
  EXPECT_FALSE(Says(corrected.limits, "not checked"));
  EXPECT_LT(corrected.mm_per_cap_height.u, unchecked.mm_per_cap_height.u);
}

// A parallel plane cannot be separated from the leather's: the limit says what a millimetre costs.
TEST_F(ScaleOf, AHigherCardIsAStatedLimit) {
  const Scale scale = Measure(by_card_, test::PrintedCard(), Laid({2, 4}, 0, 3));
  ASSERT_TRUE(scale.is_known());
  EXPECT_NEAR(ErrorOf(scale), -3 / camera_.distance_mm, 0.003);
  EXPECT_TRUE(Says(scale.limits, "0.4 % too short")) << scale.limits.back();
}

TEST_F(ScaleOf, ATiltedCardIsNoticed) {
  const Scale flat = Measure(by_card_, test::PrintedCard(), Laid({2, 4}));
  // Its far edge 54 mm * sin(20) = 18 mm up.
  const Scale tilted = Measure(by_card_, test::PrintedCard(), Laid({2, 4}, 0, 9, -20));
  ASSERT_TRUE(tilted.is_known());
  EXPECT_TRUE(Says(tilted.warnings, "one plane"));
  EXPECT_GT(tilted.mm_per_cap_height.u, 1.5 * flat.mm_per_cap_height.u);
  EXPECT_LT(std::abs(ErrorOf(tilted)) * kCapMm, 3 * tilted.mm_per_cap_height.u);
}

TEST_F(ScaleOf, ABentCardIsNoticedAndWidens) {
  const Scale flat = Measure(by_card_, test::PrintedCard(), Laid({2, 4}));
  const Scale bent = Measure(by_card_, test::PrintedCard(), test::Rolled({2, 4}, 150));
  ASSERT_TRUE(bent.is_known());
  EXPECT_TRUE(Says(bent.warnings, "bent"));
  EXPECT_GT(bent.mm_per_cap_height.u, flat.mm_per_cap_height.u);
  EXPECT_LT(std::abs(ErrorOf(bent)) * kCapMm, 3 * bent.mm_per_cap_height.u);
}

TEST_F(ScaleOf, NoCardGivesNoMillimetresAndSaysSo) {
  const Scale scale = Measure(by_card_, Scene(camera_));
  EXPECT_FALSE(scale.is_known());
  EXPECT_TRUE(Says(scale.warnings, "no mark"));
}

// Four corners and two points give what the card gives, each with the picking error's uncertainty:
// the spread of a hundred pickings against u.
TEST_F(ScaleOf, ByHandAgreesWithinThePickingError) {
  cv::RNG random(17);
  for (int k = 0; k < 8; ++k) random.next();
  const Scene scene(camera_);
  const fit::Placement placement = stamp_.Placed(camera_);
  const StampPlace place{placement, outline::Bounds(stamp_.lettering)};
  const cv::Mat photo(camera_.size, CV_8UC3, cv::Scalar(90, 90, 90));
  for (const bool corners : {true, false}) {
    std::vector<double> errors;
    double u_picking = 0;
    for (int k = 0; k < 100; ++k) {
      ScaleOptions by_hand;
      by_hand.pick_px = 2;
      std::vector<double>& picked = corners ? by_hand.corners : by_hand.points;
      const std::vector<Point> on_table =
          corners ? std::vector<Point>{{2, 4}, {87.6, 4}, {87.6, 57.98}, {2, 57.98}}
                  : std::vector<Point>{{20, 55}, {70, 60}};
      for (const Point& p : on_table) {
        picked.push_back(Photo(p).x() + random.gaussian(2));
        picked.push_back(Photo(p).y() + random.gaussian(2));
      }
      if (!corners) by_hand.points_mm = std::hypot(50, 5);
      ASSERT_TRUE(by_hand.Check());
      const Scale scale = FindScale(photo, camera_.focal_length_35mm(), place, by_hand);
      ASSERT_EQ(scale.method, corners ? ScaleMethod::kRectangle : ScaleMethod::kTwoPoints);
      errors.push_back(ErrorOf(scale));
      u_picking = scale.terms[0].name == "picking" ? scale.terms[0].u : u_picking;
      for (const auto& term : scale.terms) {
        if (term.name == "picking") u_picking = term.u;
      }
      EXPECT_LT(std::abs(errors.back()), 4 * scale.mm_per_cap_height.u / kCapMm);
    }
    double mean = 0, square = 0;
    for (const double e : errors) mean += e / 100;
    for (const double e : errors) square += (e - mean) * (e - mean) / 99;
    EXPECT_LT(std::abs(mean), 0.003) << corners;
    // A standard deviation of a hundred is known to 7 %.
    EXPECT_NEAR(std::sqrt(square) / u_picking, 1, 0.25) << corners;
  }
}

TEST_F(ScaleOf, MirrorOrderOfCornersIsTheSame) {
  ScaleOptions by_hand;
  const fit::Placement placement = stamp_.Placed(camera_);
  const StampPlace place{placement, outline::Bounds(stamp_.lettering)};
  const cv::Mat photo(camera_.size, CV_8UC3, cv::Scalar(90, 90, 90));
  const std::vector<std::vector<Point>> orders = {{{2, 4}, {87.6, 4}, {87.6, 57.98}, {2, 57.98}},
                                                  {{87.6, 4}, {2, 4}, {2, 57.98}, {87.6, 57.98}},
                                                  {{87.6, 57.98}, {2, 57.98}, {2, 4}, {87.6, 4}}};
  for (const auto& order : orders) {
    by_hand.corners.clear();
    for (const Point& p : order) {
      by_hand.corners.push_back(Photo(p).x());
      by_hand.corners.push_back(Photo(p).y());
    }
    ASSERT_TRUE(by_hand.Check()) << by_hand.Check().error().ToString();
    EXPECT_LT(std::abs(ErrorOf(FindScale(photo, {}, place, by_hand))), 1e-6);
  }
}

// Without a set the outlines carry the tilt: heights are still right, across the baseline.
TEST_F(ScaleOf, OutlinesOfThisPhotoKeepTheirOwnDirections) {
  Stamp stamp;
  fit::Placement seen = stamp.Placed(camera_);
  // What a seed from one photo has: cap heights by their own height, the width as it looks.
  Eigen::Matrix3d squeeze = Eigen::Vector3d(0.93, 1, 1).asDiagonal();
  seen.photo_from_stamp = seen.photo_from_stamp * squeeze;
  outline::Box box = outline::Bounds(stamp.lettering);
  box.min.x() /= 0.93;
  box.max.x() /= 0.93;
  Scene scene(camera_);
  scene.Lay(test::PrintedCard(), Laid({2, 4}));
  const Scale scale = FindScale(scene.Photograph({}), camera_.focal_length_35mm(),
                                {seen, box, StampShape::kFromThisPhoto}, by_card_);
  EXPECT_LT(std::abs(ErrorOf(scale)), 0.002);
  EXPECT_NEAR(scale.along_mm, 0.93 * kCapMm, 0.003 * kCapMm);
  EXPECT_FALSE(Says(scale.warnings, "one plane"));
  EXPECT_TRUE(Says(scale.limits, "Without a set"));
}

TEST(ScaleOptionsCheck, SaysWhatIsWrong) {
  const auto error = [](const ScaleOptions& o) {
    const auto checked = o.Check();
    return checked ? std::string() : checked.error().ToString();
  };
  ScaleOptions o;
  EXPECT_EQ(error(o), "");
  o.points = {1, 2, 3};
  o.points_mm = 20;
  EXPECT_NE(error(o).find("four"), std::string::npos) << error(o);
  o.points = {10, 10, 10, 10};
  EXPECT_NE(error(o).find("one, or nearly"), std::string::npos) << error(o);
  o.points = {10, 10, 500, 10};
  EXPECT_EQ(error(o), "");
  o.points_mm = 0;
  EXPECT_NE(error(o).find("distance"), std::string::npos) << error(o);
  o.points_mm = -4;
  EXPECT_NE(error(o), "");
  o.points_mm = std::nan("");
  EXPECT_NE(error(o), "");
  o.points_mm = 20;
  o.points[1] = std::nan("");
  EXPECT_NE(error(o).find("finite"), std::string::npos) << error(o);
  o.points[1] = 10;
  o.card = true;
  EXPECT_NE(error(o).find("more than one"), std::string::npos) << error(o);
  o = {};
  o.card_check_mm = 98;
  EXPECT_NE(error(o).find("without the card"), std::string::npos) << error(o);
  o.card = true;
  EXPECT_EQ(error(o), "");
  o.card_check_mm = 9.85;
  EXPECT_NE(error(o).find("out of range"), std::string::npos) << error(o);
  o = {};
  o.corners = {0, 0, 800, 0, 800, 500, 0};
  EXPECT_NE(error(o).find("eight"), std::string::npos) << error(o);
  o.corners = {0, 0, 800, 0, 0, 500, 800, 500};
  EXPECT_NE(error(o).find("go round"), std::string::npos) << error(o);
  o.corners = {0, 0, 800, 0, 400, 0, 0, 500};
  EXPECT_NE(error(o).find("go round"), std::string::npos) << error(o);
  o.corners = {0, 0, 0, 800, 500, 800, 500, 0};
  EXPECT_EQ(error(o), "");
  o.corners = {0, 0, 500, 0, 500, 800, 0, 800};
  EXPECT_NE(error(o).find("short side"), std::string::npos) << error(o);
  o.corners = {0, 0, 800, 0, 800, 500, 0, 500};
  EXPECT_EQ(error(o), "");
  EXPECT_TRUE(o.CheckWithin({900, 600}));
  const auto outside = o.CheckWithin({700, 600});
  ASSERT_FALSE(outside);
  EXPECT_NE(outside.error().message.find("(800, 0) lies outside"), std::string::npos);
  o.rectangle_height_mm = 90;
  EXPECT_NE(error(o), "");
}

// The whole chain: lettering found and fitted, card found, cap height in millimetres. Seeds 1 to 8.
TEST(ScaleChain, CapHeightsOfFittedLettering) {
  const outline::Lettering lettering = test::DrawnLettering({{"ORBENNA", 1.0}});
  const Sheet card = test::PrintedCard(), foil = test::DrawnFoil(lettering, kCapMm);
  std::vector<double> errors;
  int within = 0;
  for (std::uint64_t seed = 1; seed <= 8; ++seed) {
    cv::RNG random(seed * 32452843 + 5);
    for (int k = 0; k < 8; ++k) random.next();
    Camera camera;
    camera.px_per_mm = random.uniform(10.0, 15.0);
    camera.size = cv::Size(static_cast<int>(125 * camera.px_per_mm),
                           static_cast<int>(105 * camera.px_per_mm));
    camera.distance_mm = random.uniform(200.0, 350.0);
    camera.tilt_deg = random.uniform(0.0, 25.0);
    camera.tilt_axis_deg = random.uniform(0.0, 360.0);
    camera.turn_deg = random.uniform(-15.0, 15.0);
    camera.middle = Point(45, 42);
    test::Exposure exposure;
    exposure.blur_px = random.uniform(0.6, 1.3);
    exposure.seed = seed;
    Scene scene(camera, 0.08f, seed);
    scene.Lay(card, Laid({2, 4}, random.uniform(-4.0, 4.0)));
    scene.Lay(foil, Laid({25, 76}));
    const cv::Mat photo = scene.Photograph(exposure);
    if (seed == 1 && std::getenv("DEBOSSIER_KEEP_PHOTO") != nullptr) {
      cv::imwrite(std::getenv("DEBOSSIER_KEEP_PHOTO"), photo);
    }
    const auto placed = fit::PlaceLettering(photo, lettering);
    ASSERT_TRUE(placed) << seed << " " << placed.error().ToString();
    ScaleOptions options;
    options.card = true;
    const Scale scale = FindScale(
        photo, camera.focal_length_35mm(),
        {placed->photo_from_stamp, outline::Bounds(lettering), StampShape::kKnown}, options);
    ASSERT_TRUE(scale.is_known()) << seed;
    errors.push_back(std::abs(ErrorOf(scale)));
    within += errors.back() * kCapMm < 2 * scale.mm_per_cap_height.u;
    std::printf("seed %d: tilt %.0f, error %.3f %%, u %.3f %%\n", static_cast<int>(seed),
                camera.tilt_deg, 100 * ErrorOf(scale), 100 * scale.mm_per_cap_height.u / kCapMm);
  }
  std::sort(errors.begin(), errors.end());
  EXPECT_LT(errors[errors.size() / 2], 0.003);
  EXPECT_LT(errors.back(), 0.01);
  EXPECT_GE(within, 7);
}

}  // namespace
}  // namespace debossier::card
