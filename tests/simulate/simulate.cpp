#include "simulate/simulate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/files.h"
#include "simulate/camera.h"
#include "simulate/impression.h"
#include "simulate/jpeg.h"
#include "simulate/panel.h"
#include "simulate/sensor.h"
#include "simulate/shading.h"
#include "simulate/surroundings.h"

namespace debossier::simulate {
namespace {

constexpr double kMostPixels = 60e6;
/// Cells a cap height at least: a contour's corners of 0.02 cap heights are then off by less than
/// 0.1 % of the cap height.
constexpr double kFewestCells = 110;

/// Streams of the seed, one a part, so that a change in one part leaves the others alone.
enum Stream : std::uint64_t {
  kAmountStream = 1,
  kMaterialStream,
  kGrainStream,
  kMottlingStream,
  kPressStream,
  kSurroundingsStream,
  kPackStream,
  kSceneStream,
  kUnevenStream,
  kNoiseStream,
};

Result<Grid> GridFor(const Camera& camera, const Amounts& amounts) {
  const auto too_large =
      Refuse(ErrorCode::kOverLimit, "simulate", "", "the picture would be too large",
             "use a smaller cap height, margin or tilt");
  const cv::Size photo = camera.photo_size();
  if (1.0 * photo.width * photo.height > kMostPixels) return too_large;
  const Box seen = camera.Seen();
  Grid grid;
  grid.step = 1 / std::max(kFewestCells, 1.15 * amounts.cap_height_px);
  const double cells = seen.width() / grid.step * (seen.height() / grid.step);
  const double longest = std::max(seen.width(), seen.height()) / grid.step;
  if (!(cells < 2 * kMostPixels && longest < Camera::kLongestSide)) return too_large;
  grid.origin = seen.min;
  grid.size = cv::Size(static_cast<int>(std::ceil(seen.width() / grid.step)) + 2,
                       static_cast<int>(std::ceil(seen.height() / grid.step)) + 2);
  return grid;
}

/// Burnished leather where the die pressed: darker and shinier, most of all in a blind stamp.
void Burnish(const Field& face, Finish finish, Random random, PanelFields& fields) {
  const auto dark = static_cast<float>(HasFoil(finish) ? 0.18 : random.Uniform(0.25, 0.5));
  const auto shiny = static_cast<float>(random.Uniform(0.1, 0.6));
  for (int j = 0; j < face.rows; ++j) {
    for (int i = 0; i < face.cols; ++i) {
      fields.reflect(j, i) *= 1 - dark * face(j, i);
      fields.gloss(j, i) *= 1 + shiny * face(j, i);
    }
  }
}

struct PressedPanel {
  Panel panel;
  double mean_gain_mm = 0;
};

Result<PressedPanel> BuildPanel(const outline::Lettering& die, const Grid& grid,
                                const SimulateOptions& options) {
  const Amounts& amounts = options.amounts;
  const Random random(options.seed);
  PanelFields fields;
  fields.grid = grid;
  fields.cells_per_mm = 1 / (grid.step * amounts.cap_height_mm);
  Field grain;
  if (options.surface) {
    Result<Field> relief =
        ReliefFromPicture(*options.surface, grid.size, fields.cells_per_mm, amounts);
    if (!relief) return PassOn(relief);
    grain = *relief;
  } else {
    grain = GrainRelief(options.leather, grid.size, fields.cells_per_mm, amounts,
                        random.Fork(kGrainStream));
  }
  Field distance = SignedDistance(Shapes(die), grid, Reach(amounts) / amounts.cap_height_mm);
  Scale(distance, amounts.cap_height_mm);
  const Impression impression =
      Press(distance, grain, fields.cells_per_mm, amounts, random.Fork(kPressStream));
  fields.relief = impression.relief;
  fields.edge = impression.edge;
  fields.keep = impression.keep;
  fields.reflect = Mottling(grid.size, fields.cells_per_mm, amounts, random.Fork(kMottlingStream));
  fields.gloss = Field(grid.size, 1.0f);
  fields.thread = Field(grid.size, 0.0f);
  fields.thread_tone = Field(grid.size, 1.0f);
  fields.backing = Field(grid.size, 0.0f);
  Random surroundings = random.Fork(kSurroundingsStream);
  Burnish(impression.face, options.finish, surroundings.Fork(1), fields);
  AddSurroundings(outline::Bounds(die), amounts, surroundings.Fork(2), fields);
  return PressedPanel{PackPanel(fields, amounts, random.Fork(kPackStream)),
                      impression.mean_gain_mm};
}

/// Places on the stamp under the upper left corners of a row of pixels, and one more.
std::vector<Point> CornerRow(const Camera& camera, int row) {
  std::vector<Point> corners;
  for (int i = 0; i <= camera.photo_size().width; ++i) {
    corners.push_back(camera.ToStamp(Point(i - 0.5, row - 0.5)));
  }
  return corners;
}

/// Light on each pixel: the mean over a square of samples, each traced back to the panel. The
/// camera is asked at the pixels' corners; within a pixel its map is bilinear to 1e-6 px.
cv::Mat3f Photograph(const Panel& panel, const Camera& camera, const Scene& scene,
                     const Amounts& amounts) {
  const double cells_per_px = 1 / (panel.grid.step * amounts.cap_height_px);
  const int across = std::clamp(static_cast<int>(std::ceil(1.3 * cells_per_px)), 2, 5);
  const Shader shader(scene, amounts.cap_height_mm / (amounts.cap_height_px * across));
  cv::Mat3f light(camera.photo_size());
  cv::parallel_for_(cv::Range(0, light.rows), [&](const cv::Range& range) {
    std::vector<Point> upper = CornerRow(camera, range.start);
    for (int j = range.start; j < range.end; ++j) {
      const std::vector<Point> lower = CornerRow(camera, j + 1);
      for (int i = 0; i < light.cols; ++i) {
        const Point middle = 0.25 * (upper[i] + upper[i + 1] + lower[i] + lower[i + 1]);
        const Eigen::Vector3f towards_camera = camera.TowardsCamera(middle).cast<float>();
        const Eigen::Vector2f bend = camera.PanelSlope(middle).cast<float>();
        cv::Vec3f sum(0, 0, 0);
        for (int b = 0; b < across; ++b) {
          const double v = (b + 0.5) / across;
          const Point left = upper[i] + v * (lower[i] - upper[i]);
          const Point right = upper[i + 1] + v * (lower[i + 1] - upper[i + 1]);
          for (int a = 0; a < across; ++a) {
            const Cell cell = panel.At(left + (a + 0.5) / across * (right - left));
            sum += shader.Shade(cell, towards_camera, bend);
          }
        }
        light(j, i) = sum * (1.0f / static_cast<float>(across * across));
      }
      upper = lower;
    }
  });
  return light;
}

Quad QuadOf(const Box& box, const Camera& camera) {
  return {camera.ToPhoto(box.min), camera.ToPhoto({box.max.x(), box.min.y()}),
          camera.ToPhoto(box.max), camera.ToPhoto({box.min.x(), box.max.y()})};
}

Truth TruthOf(const outline::Lettering& die, const SimulateOptions& options, const Camera& camera,
              double mean_gain_mm) {
  Truth truth;
  truth.seed = options.seed;
  truth.level = options.level;
  truth.leather = options.leather;
  truth.leather_colour = options.leather_colour;
  truth.finish = options.finish;
  truth.width = camera.photo_size().width;
  truth.height = camera.photo_size().height;
  truth.photo_from_stamp = camera.photo_from_stamp();
  truth.leather_from_stamp = camera.leather_from_stamp();
  truth.stretch = camera.stretch();
  truth.gain = mean_gain_mm / options.amounts.cap_height_mm;
  truth.amounts = options.amounts;
  truth.departures = options.departures;
  truth.lines = die.lines;
  for (const outline::Element& element : die.elements) {
    const Box box = outline::Bounds(element.outline);
    const bool has_line =
        element.line_idx >= 0 && element.line_idx < static_cast<int>(die.lines.size());
    truth.elements.push_back({element.id, has_line ? die.lines[element.line_idx].id : "",
                              element.character, box, box.empty() ? Quad{} : QuadOf(box, camera)});
  }
  truth.frame = die.frame;
  const outline::Outline rule = outline::FrameOutline(die.frame);
  if (!rule.empty()) truth.frame_quad_px = QuadOf(outline::Bounds(rule), camera);
  return truth;
}

}  // namespace

Result<std::monostate> SimulateOptions::Check() const {
  struct Limit {
    const char* name;
    double value;
    double low;
    double high;
  };
  const Limit limits[] = {
      {"cap_height_px", amounts.cap_height_px, 6, 2000},
      {"cap_height_mm", amounts.cap_height_mm, 0.3, 100},
      {"distance_mm", amounts.distance_mm, 30, 1e5},
      {"tilt_deg", amounts.tilt_deg, 0, 45},
      {"bend_per_mm", amounts.bend_per_mm, -0.03, 0.03},
      {"stretch_x", amounts.stretch_x, -0.2, 0.2},
      {"stretch_y", amounts.stretch_y, -0.2, 0.2},
      {"margin", amounts.margin, 0, 20},
      {"ragged_length_mm", amounts.ragged_length_mm, 0.01, 5},
      {"grain_size", amounts.grain_size, 0.2, 10},
      {"light_elevation_deg", amounts.light_elevation_deg, 5, 90},
      {"light_size_deg", amounts.light_size_deg, 1, 90},
      {"gain_mm", amounts.gain_mm, -0.5, 0.5},
      {"dwell_mm", amounts.dwell_mm, -0.5, 0.5},
      {"ragged_mm", amounts.ragged_mm, 0, 0.2},
      {"flash", amounts.flash, 0, 0.5},
      {"depth_mm", amounts.depth_mm, 0, 0.5},
      {"wall_deg", amounts.wall_deg, 25, 80},
      {"wear", amounts.wear, 0, 1},
      {"valley_loss", amounts.valley_loss, 0, 1},
      {"blur_px", amounts.blur_px, 0, 20},
      {"disc_px", amounts.disc_px, 0, 20},
      {"motion_px", amounts.motion_px, 0, 40},
      {"scratches", amounts.scratches, 0, 100},
  };
  for (const AmountRow& row : AmountTable()) {
    if (std::abs(amounts.*row.member) < 1e6) continue;
    return Refuse(ErrorCode::kUsage, "simulate", row.name, "is not a usable number",
                  "debossier-simulate --amounts lists the usual ranges");
  }
  for (const Limit& limit : limits) {
    if (limit.value >= limit.low && limit.value <= limit.high) continue;
    return Refuse(ErrorCode::kUsage, "simulate", limit.name,
                  fmt::format("{} is out of range", limit.value),
                  fmt::format("use {} to {}", limit.low, limit.high));
  }
  return std::monostate{};
}

Result<SimulateOptions> DrawOptions(Level level, std::uint64_t seed, const Choices& choices) {
  SimulateOptions options;
  options.seed = seed;
  options.level = level;
  const Random random(seed);
  Random material = random.Fork(kMaterialStream);
  const auto leathers = AllLeathers();
  const auto finishes = AllFinishes();
  const Leather leather = leathers[material.Below(static_cast<int>(leathers.size()))];
  const Finish finish = finishes[material.Below(static_cast<int>(finishes.size()))];
  options.leather = choices.leather.value_or(leather);
  options.finish = choices.finish.value_or(finish);
  const LeatherColour* colour = &DrawLeatherColour(options.finish, material);
  if (choices.leather_colour) {
    const Result<const LeatherColour*> named = LeatherColourNamed(*choices.leather_colour);
    if (!named) return PassOn(named);
    colour = *named;
  }
  options.leather_colour = colour->name;
  const double lighter = material.Uniform(0.88, 1.12);
  for (int c = 0; c < 3; ++c) {
    const double varied = colour->srgb[c] * lighter * material.Uniform(0.975, 1.025);
    options.leather_srgb[c] = static_cast<unsigned char>(std::clamp(varied, 8.0, 245.0));
  }
  options.foil = DrawFoilColour(options.finish, material);
  options.amounts = DrawAmounts(level, random.Fork(kAmountStream));
  return options;
}

Result<Simulated> Simulate(const outline::Lettering& die, const SimulateOptions& options) try {
  if (const auto checked = options.Check(); !checked) return PassOn(checked);
  const Box bounds = outline::Bounds(die);
  if (bounds.empty() || bounds.width() > 200 || bounds.height() > 200) {
    return Refuse(ErrorCode::kUsage, "simulate", "", "the die has nothing to press or is too large",
                  "give lettering of at most 200 cap heights");
  }
  const Camera camera(bounds, options.amounts);
  const Result<Grid> grid = GridFor(camera, options.amounts);
  if (!grid) return PassOn(grid);
  const Result<PressedPanel> pressed = BuildPanel(die, *grid, options);
  if (!pressed) return PassOn(pressed);
  const Random random(options.seed);
  const Scene scene = DrawScene(options.amounts, options.leather, options.leather_srgb,
                                HasFoil(options.finish) ? options.foil : cv::Vec3f(0, 0, 0),
                                IsMetal(options.finish), random.Fork(kSceneStream));
  cv::Mat3f light = Photograph(pressed->panel, camera, scene, options.amounts);
  AddUnevenLight(light, options.amounts, random.Fork(kUnevenStream));
  Blur(light, options.amounts);
  const auto stops = static_cast<float>(std::exp2(options.amounts.exposure_ev));
  const float exposure = AutomaticExposure(light) * stops;
  return Simulated{Develop(light, exposure, options.amounts, random.Fork(kNoiseStream)),
                   TruthOf(die, options, camera, pressed->mean_gain_mm)};
} catch (const cv::Exception&) {
  return Refuse(ErrorCode::kOverLimit, "simulate", "", "there is not enough memory for the picture",
                "use a smaller cap height or margin");
}

Result<std::string> EncodeSimulated(const Simulated& simulated) {
  const Truth& truth = simulated.truth;
  const std::string note = fmt::format("photograph, made by debossier-simulate; level {}, seed {}",
                                       NameOf(truth.level), truth.seed);
  return EncodeMarkedJpeg(simulated.bgr, static_cast<int>(truth.amounts.jpeg_quality), note);
}

Result<std::monostate> WriteSimulated(const Simulated& simulated,
                                      const std::filesystem::path& folder,
                                      const std::string& name) {
  const Result<std::string> jpeg = EncodeSimulated(simulated);
  if (!jpeg) return PassOn(jpeg);
  const auto picture =
      WriteFileWhole(folder / (name + ".jpg"), *jpeg, IfExists::kReplace, "simulate");
  if (!picture) return PassOn(picture);
  return WriteFileWhole(folder / (name + ".truth.json"), TruthJson(simulated.truth),
                        IfExists::kReplace, "simulate");
}

}  // namespace debossier::simulate
