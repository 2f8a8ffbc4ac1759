#include "simulate/simulate.h"

#include <gtest/gtest.h>

#include <Eigen/Dense>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <numbers>
#include <opencv2/imgcodecs.hpp>

#include "base/files.h"
#include "simulate/plain_die.h"

namespace debossier::simulate {
namespace {

/// Linear light of plain leather and plain foil in a picture of a large square.
struct Tones {
  double leather = 0;
  double foil = 0;
};

Tones TonesOf(const Simulated& simulated, const Point& inside) {
  return {LinearGreen(simulated.bgr, 4, 4),
          LinearGreen(simulated.bgr, static_cast<int>(inside.y()), static_cast<int>(inside.x()))};
}

Point Middle(const Quad& quad) { return 0.25 * (quad[0] + quad[1] + quad[2] + quad[3]); }

Simulated Made(const outline::Lettering& die, const SimulateOptions& options) {
  Result<Simulated> made = Simulate(die, options);
  EXPECT_TRUE(made) << made.error().ToString();
  return *std::move(made);
}

// The truth says where a point of the die is; the pixels have to agree. Discs are small because the
// middle of a disc's picture is not the picture of its middle once there is perspective.
TEST(Simulate, DiscsLieWhereTheTruthSays) {
  std::vector<outline::Contour> discs;
  for (const double x : {0.0, 1.1, 2.3, 3.2}) {
    discs.push_back(outline::Ellipse({x, 0.3 * std::sin(x)}, 0.14, 0.14));
  }
  const outline::Lettering die = DieOf(discs);
  SimulateOptions options = PlainOptions();
  options.amounts.turn_deg = 17;
  options.amounts.tilt_deg = 9;
  options.amounts.tilt_axis_deg = 40;
  options.amounts.distance_mm = 400;
  options.amounts.stretch_x = 0.004;
  options.amounts.along2 = 0.006;
  options.amounts.across3 = 0.005;
  const Simulated made = Made(die, options);
  for (std::size_t k = 0; k < discs.size(); ++k) {
    const Point centre = outline::Bounds(discs[k]).centre();
    const Point moved = centre + made.truth.stretch.Displacement(centre.x());
    const Point expected = (made.truth.photo_from_stamp * moved.homogeneous()).hnormalized();
    EXPECT_LT((Middle(made.truth.elements[k].quad_px) - expected).norm(), 0.05);
    const double foil = LinearGreen(made.bgr, static_cast<int>(std::lround(expected.y())),
                                    static_cast<int>(std::lround(expected.x())));
    const double leather = LinearGreen(made.bgr, static_cast<int>(std::lround(expected.y())),
                                       static_cast<int>(std::lround(expected.x() + 27)));
    const Blob blob = BlobNear(made.bgr, expected, 26, leather, foil);
    EXPECT_NEAR((blob.centroid - expected).norm(), 0, 0.02) << "disc " << k;
  }
}

// A square of side w grown outward by g has area w^2 + 4 w g + pi g^2 (its corners become round).
// Edge pixels mixed in anything but linear light would miss this by one part in a hundred.
TEST(Simulate, CoverageIsMixedInLinearLightAndGainMovesTheEdge) {
  const outline::Lettering die =
      DieOf({outline::Rectangle(outline::Box{Point(0, 0), Point(1, 1)})});
  for (const double gain_mm : {0.0, 0.03, 0.09}) {
    SimulateOptions options = PlainOptions();
    options.amounts.gain_mm = gain_mm;
    options.amounts.blur_px = 1.2;
    const Simulated made = Made(die, options);
    const Point middle = Middle(made.truth.elements[0].quad_px);
    const Tones tones = TonesOf(made, middle);
    EXPECT_GT(tones.foil, 5 * tones.leather);
    EXPECT_LT(tones.foil, 0.75);
    const Blob blob = BlobNear(made.bgr, middle, 1e9, tones.leather, tones.foil);
    const double side = options.amounts.cap_height_px;
    const double gain = gain_mm / options.amounts.cap_height_mm * side;
    const double expected = side * side + 4 * side * gain + std::numbers::pi * gain * gain;
    EXPECT_NEAR(blob.area / expected, 1, 0.0015) << "gain " << gain_mm << " mm";
    EXPECT_NEAR(made.truth.gain, gain_mm / options.amounts.cap_height_mm, 1e-6);
  }
}

TEST(Simulate, SameSeedSameBytes) {
  const outline::Lettering die = DieOf({outline::Ellipse({0, 0}, 0.5, 0.5)});
  for (const Level level : {Level::kClean, Level::kTypical, Level::kHard}) {
    auto options = DrawOptions(level, 42);
    ASSERT_TRUE(options);
    const Simulated one = Made(die, *options);
    cv::setNumThreads(1);
    const Simulated two = Made(die, *options);
    cv::setNumThreads(-1);
    EXPECT_EQ(*EncodeSimulated(one), *EncodeSimulated(two));
    EXPECT_EQ(TruthJson(one.truth), TruthJson(two.truth));
    auto other = DrawOptions(level, 43);
    ASSERT_TRUE(other);
    EXPECT_NE(*EncodeSimulated(one), *EncodeSimulated(Made(die, *other)));
  }
}

TEST(Simulate, WearTakesTheStatedShareOfFoil) {
  const outline::Lettering die =
      DieOf({outline::Rectangle(outline::Box{Point(0, 0), Point(5, 1)})});
  const auto bright = [&die](double wear) {
    SimulateOptions options = PlainOptions();
    options.amounts.wear = wear;
    const Simulated made = Made(die, options);
    double sum = 0;
    for (int j = 0; j < made.bgr.rows; ++j) {
      for (int i = 0; i < made.bgr.cols; ++i) {
        sum += LinearGreen(made.bgr, j, i) - LinearGreen(made.bgr, 4, 4);
      }
    }
    // The automatic exposure sees less foil: held against the brightest place.
    double brightest = 0;
    for (int j = 0; j < made.bgr.rows; ++j) {
      for (int i = 0; i < made.bgr.cols; ++i) {
        brightest = std::max(brightest, LinearGreen(made.bgr, j, i));
      }
    }
    return sum / (brightest - LinearGreen(made.bgr, 4, 4));
  };
  EXPECT_NEAR(bright(0.3) / bright(0), 0.7, 0.03);
}

TEST(Simulate, BlindStampShowsOnlyItsRelief) {
  const outline::Lettering die =
      DieOf({outline::Rectangle(outline::Box{Point(0, 0), Point(1, 1)})});
  SimulateOptions options = PlainOptions();
  options.finish = Finish::kBlind;
  options.leather_srgb = cv::Vec3b(78, 128, 182);
  options.amounts.depth_mm = 0.12;
  const Simulated made = Made(die, options);
  const Point middle = Middle(made.truth.elements[0].quad_px);
  const Tones tones = TonesOf(made, middle);
  EXPECT_LT(tones.foil, tones.leather) << "pressed leather is darker";
  EXPECT_GT(tones.foil, 0.3 * tones.leather);
}

TEST(Simulate, MetalIsBrightAndDarkInOneLetter) {
  const outline::Lettering die =
      DieOf({outline::Rectangle(outline::Box{Point(0, 0), Point(1, 1)})});
  auto options = DrawOptions(Level::kTypical, 5, {Leather::kPebbled, Finish::kGold, {}});
  ASSERT_TRUE(options);
  options->amounts.wear = options->amounts.valley_loss = 0;
  const Simulated made = Made(die, *options);
  const Point middle = Middle(made.truth.elements[0].quad_px);
  const int reach = static_cast<int>(0.35 * options->amounts.cap_height_px);
  double low = 1;
  double high = 0;
  for (int d = -reach; d <= reach; ++d) {
    const double value = LinearGreen(made.bgr, static_cast<int>(middle.y()) + d / 2,
                                     static_cast<int>(middle.x()) + d);
    low = std::min(low, value);
    high = std::max(high, value);
  }
  EXPECT_GT(high, 1.4 * low);
}

TEST(Simulate, RefusesWhatCannotBePhotographed) {
  const outline::Lettering die = DieOf({outline::Ellipse({0, 0}, 0.5, 0.5)});
  EXPECT_EQ(Simulate({}, PlainOptions()).error().code, ErrorCode::kUsage);
  SimulateOptions options = PlainOptions();
  options.amounts.cap_height_px = std::nan("");
  EXPECT_EQ(Simulate(die, options).error().where, "cap_height_px");
  options = PlainOptions();
  options.amounts.tilt_deg = 80;
  EXPECT_EQ(Simulate(die, options).error().code, ErrorCode::kUsage);
  options = PlainOptions();
  options.amounts.cap_height_px = 2000;
  options.amounts.margin = 20;
  EXPECT_EQ(Simulate(die, options).error().code, ErrorCode::kOverLimit);
  options = PlainOptions();
  options.amounts.noise = std::nan("");
  EXPECT_EQ(Simulate(die, options).error().where, "noise");
  // So near and so steep that part of the leather lies behind the camera.
  options = PlainOptions();
  options.amounts.cap_height_mm = 80;
  options.amounts.distance_mm = 30;
  options.amounts.tilt_deg = 40;
  EXPECT_EQ(Simulate(die, options).error().code, ErrorCode::kOverLimit);
  EXPECT_EQ(DrawOptions(Level::kClean, 1, {{}, {}, "plaid"}).error().code, ErrorCode::kUsage);
}

TEST(Simulate, WritesMarkedPictureAndTruth) {
  const outline::Lettering die = DieOf({outline::Ellipse({0, 0}, 0.5, 0.5)});
  const auto folder = std::filesystem::path(testing::TempDir()) / "debossier-simulate-test";
  std::filesystem::create_directories(folder);
  const Simulated made = Made(die, PlainOptions());
  ASSERT_TRUE(WriteSimulated(made, folder, "disc"));
  const auto jpeg = LoadFile(folder / "disc.jpg", 1 << 24, "test");
  const auto truth = LoadFile(folder / "disc.truth.json", 1 << 24, "test");
  ASSERT_TRUE(jpeg && truth);
  EXPECT_NE(jpeg->find("SIMULATED"), std::string::npos);
  const auto json = nlohmann::json::parse(*truth);
  EXPECT_EQ(json["format"], "debossier-truth");
  EXPECT_EQ(json["version"], 1);
  EXPECT_TRUE(json["simulated"].get<bool>());
  EXPECT_EQ(json["elements"][0]["id"], "wordmark.0");
  EXPECT_EQ(json["photo_from_stamp"].size(), 3u);
  EXPECT_EQ(json["amounts"].size(), AmountTable().size());
  std::filesystem::remove_all(folder);
}

TEST(Simulate, TakesAPictureAsSurface) {
  const std::filesystem::path grain = std::filesystem::path(DEBOSSIER_SHARED) / "grain/0015.jpg";
  if (!std::filesystem::exists(grain)) GTEST_SKIP() << "no surface pictures in ../shared/grain";
  const auto bytes = LoadFile(grain, 1 << 24, "test");
  ASSERT_TRUE(bytes);
  auto surface = std::make_shared<SurfacePicture>();
  surface->bgr = cv::imdecode(std::vector<char>(bytes->begin(), bytes->end()), cv::IMREAD_COLOR);
  SimulateOptions options = PlainOptions();
  options.leather_srgb = cv::Vec3b(78, 128, 182);
  options.amounts.grain_depth = 1;
  options.surface = surface;
  const outline::Lettering die = DieOf({outline::Ellipse({0, 0}, 0.2, 0.2)});
  const Simulated made = Made(die, options);
  cv::Scalar mean;
  cv::Scalar deviation;
  cv::meanStdDev(made.bgr(cv::Rect(0, 0, made.bgr.cols, 40)), mean, deviation);
  EXPECT_GT(deviation[1], 3) << "the surface's relief shows";
}

}  // namespace
}  // namespace debossier::simulate
