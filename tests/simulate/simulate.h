// Simulated photographs of stamped lettering, with known truth.
//
// A die is pressed into leather, takes foil, wears, and is photographed. The same options give
// the same bytes, whatever the number of threads; between processors the last bit of the C
// library's mathematics may differ. Nothing here knows how the lettering is measured.
// Frames: stamp (cap heights, y up), photo (pixels, y down).
// Not for: evidence about real goods; every file that is written says that it is simulated.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "outline/lettering.h"
#include "simulate/grain.h"
#include "simulate/levels.h"
#include "simulate/materials.h"
#include "simulate/truth.h"

namespace debossier::simulate {

struct SimulateOptions {
  std::uint64_t seed = 1;
  Level level = Level::kTypical;  ///< Noted in the truth; `amounts` says what is done.
  Leather leather = Leather::kPebbled;
  Finish finish = Finish::kGold;
  std::string leather_colour;  ///< Name; empty: `leather_srgb` as it is.
  cv::Vec3b leather_srgb{40, 62, 98};
  cv::Vec3f foil{0.28f, 0.62f, 0.92f};  ///< Linear reflectance, blue, green, red.
  Amounts amounts;
  std::vector<Departure> departures;  ///< Noted in the truth; the die comes with them done.
  std::shared_ptr<const SurfacePicture> surface;  ///< Used in place of a made grain.

  /// Refuses amounts that no photograph can be made with, naming the amount.
  Result<std::monostate> Check() const;
};

/// What the caller fixes; the rest is drawn from the seed.
struct Choices {
  std::optional<Leather> leather;
  std::optional<Finish> finish;
  std::optional<std::string> leather_colour;
};

/// Draws everything of a level from a seed. Refuses a leather colour that does not exist.
Result<SimulateOptions> DrawOptions(Level level, std::uint64_t seed, const Choices& choices = {});

struct Simulated {
  cv::Mat bgr;  ///< CV_8UC3, before JPEG.
  Truth truth;
};

/// Presses, wears and photographs `die`. Refuses an empty die, amounts out of range and pictures
/// of more than 60 megapixels.
Result<Simulated> Simulate(const outline::Lettering& die, const SimulateOptions& options);

/// The JPEG file of a simulated photograph: quality from its amounts, marked as simulated.
Result<std::string> EncodeSimulated(const Simulated& simulated);

/// Writes NAME.jpg and NAME.truth.json into an existing folder.
Result<std::monostate> WriteSimulated(const Simulated& simulated,
                                      const std::filesystem::path& folder, const std::string& name);

}  // namespace debossier::simulate
