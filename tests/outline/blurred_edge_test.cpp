#include "outline/blurred_edge.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "outline/lettering.h"

namespace debossier::outline {
namespace {

constexpr double kSigma = 0.02;

Outline Square() {
  Contour c;
  c.start = {0, 0};
  for (const Point& p : {Point(1, 0), Point(1, 1), Point(0, 1), Point(0, 0)}) {
    c.segments.push_back({true, Point::Zero(), Point::Zero(), p});
  }
  Outline o;
  o.contours.push_back(c);
  return o;
}

double Phi(double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); }

// A quarter plane under a Gaussian is a product of normal distribution functions: on its edge, s
// from the corner, one half times Phi(s / sigma).
TEST(BlurredShifts, RightAngleInClosedForm) {
  const std::vector<EdgeSample> samples = SampleEdge(Square(), 0.0037);
  const auto shifts = BlurredShifts(Square(), samples, kSigma);
  ASSERT_EQ(shifts.size(), samples.size());
  int near_corner = 0;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    if (samples[i].point.y() > 1e-9 || samples[i].point.x() > 0.5) continue;  // lower side
    const double s = samples[i].point.x();
    const double missing = 0.5 - 0.5 * Phi(s / kSigma);
    const double expected = -missing * std::sqrt(2 * std::numbers::pi) * kSigma;
    EXPECT_NEAR(shifts[i], expected, 0.02 * kSigma) << "at " << s;
    near_corner += s < kSigma;
  }
  EXPECT_GT(near_corner, 3);
}

// Verbeek and van Vliet 1993: the edge of a disc of radius R under a Gaussian lies about
// sigma^2 / (2 R) inside.
TEST(BlurredShifts, Disc) {
  constexpr double kRadius = 0.5;
  const Outline disc = FrameOutline({.kind = FrameKind::kEllipse,
                                     .centre = {0, 0},
                                     .radius = {kRadius, kRadius},
                                     .line_weight = 0.1,
                                     .line_idx = -1});
  Outline outer;
  outer.contours.push_back(disc.contours.front());
  const auto samples = SampleEdge(outer, 0.05);
  const auto shifts = BlurredShifts(outer, samples, kSigma);
  const double radius = samples.front().point.norm();
  for (const double shift : shifts) {
    EXPECT_NEAR(shift, -kSigma * kSigma / (2 * radius), 0.1 * kSigma * kSigma / radius);
  }
}

TEST(BlurredShifts, NoneWithoutBlur) {
  const auto samples = SampleEdge(Square(), 0.1);
  for (const double shift : BlurredShifts(Square(), samples, 0)) EXPECT_EQ(shift, 0);
}

}  // namespace
}  // namespace debossier::outline
