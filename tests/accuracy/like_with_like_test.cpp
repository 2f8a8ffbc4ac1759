// The reference photographed without noise reads as its own rendering does, whatever the size and
// the blur: what blur, sampling and the camera's coding do to edges is in both and cancels.
#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "accuracy/dies.h"
#include "base/quantile.h"
#include "fit/place_lettering.h"
#include "simulate/simulate.h"
#include "trace/consensus.h"

namespace debossier::accuracy {
namespace {

simulate::SimulateOptions Noiseless(double cap_height_px, double blur_px) {
  simulate::SimulateOptions options;
  options.finish = simulate::Finish::kWhite;
  options.foil = {0.8f, 0.8f, 0.8f};
  for (const auto& row : simulate::AmountTable()) options.amounts.*row.member = row.clean.low;
  simulate::Amounts& a = options.amounts;
  a.gain_mm = a.ragged_mm = a.grain_depth = a.grain_left = a.mottling = a.noise = 0;
  a.foil_waves = a.pressure = a.uneven = a.vignetting = 0;
  a.depth_mm = 0.001;
  a.turn_deg = 3;
  a.tilt_deg = 0;
  a.room_light = 1;
  a.cap_height_px = cap_height_px;
  a.blur_px = blur_px;
  return options;
}

/// Median of what the photo's edges lie beyond the rendering's, cap heights.
double MedianDifference(const fit::PlaceReport& placed) {
  std::vector<double> apart;
  for (const auto& element : placed.elements) {
    if (!element.found) continue;
    for (const auto& r : element.readings) {
      if (r.kind == fit::EdgeReading::Kind::kEdge) apart.push_back(std::abs(r.displacement));
    }
  }
  return Median(std::move(apart));
}

class LikeWithLike : public testing::TestWithParam<int> {};

TEST_P(LikeWithLike, NoiselessReference) {
  const auto& plan = DiePlans()[static_cast<std::size_t>(GetParam())];
  std::vector<simulate::Departure> none;
  auto die = MakeDie(plan, none);
  if (!die) GTEST_SKIP() << die.error().message;
  trace::Normalise(*die);
  // Beyond a blur of one eighteenth of a cap height the strokes of small letters run together, and
  // what is read of them hangs on the last digit of the blur.
  constexpr double kReadable = 0.055;
  for (const double cap : {25., 40., 60., 100., 160.}) {
    for (const double blur : {.5, 1., 2., 3.}) {
      if (blur > kReadable * cap) continue;
      const auto simulated = simulate::Simulate(*die, Noiseless(cap, blur));
      ASSERT_TRUE(simulated) << simulated.error().ToString();
      const auto placed = fit::PlaceLettering(simulated->bgr, *die);
      ASSERT_TRUE(placed) << placed.error().ToString();
      EXPECT_LT(MedianDifference(*placed), 0.001) << cap << " px, blur " << blur;
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Dies, LikeWithLike, testing::Values(0, 9, 12));

}  // namespace
}  // namespace debossier::accuracy
