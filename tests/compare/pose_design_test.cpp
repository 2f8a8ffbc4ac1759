#include "compare/pose_design.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>

#include "compare/drawn_poses.h"
#include "fit/placement.h"

namespace debossier::compare {
namespace {

using outline::Point;

/// The pose of a small box about `at` under a map of the plane, by differences.
PoseVector PoseUnder(const std::function<Point(Point)>& map, const Point& at) {
  constexpr double kStep = 1e-4;
  const Point here = map(at);
  const Point right = map(at + Point(kStep, 0)) - map(at - Point(kStep, 0));
  const Point up = map(at + Point(0, kStep)) - map(at - Point(0, kStep));
  PoseVector pose;
  pose << here.x() - at.x(), here.y() - at.y(), std::log(right.x() / (2 * kStep)),
      std::log(up.y() / (2 * kStep)), up.x() / (2 * kStep);
  return pose;
}

void ExpectColumn(const PoseColumns& columns, const PoseFrame& frame, std::size_t column,
                  const std::function<Point(Point)>& map_by_small) {
  constexpr double kSmall = 1e-5;
  for (std::size_t j = 0; j < frame.elements.size(); ++j) {
    const PoseVector seen = PoseUnder(map_by_small, frame.elements[j].at) / kSmall;
    const PoseVector rows = columns.rows[j].col(static_cast<Eigen::Index>(column));
    EXPECT_LT((seen - rows).norm(), 2e-3 * (1 + rows.norm())) << column << " " << j;
  }
}

// Each column is the derivative of what it stands for: an affine map, a homography (Hartley and
// Zisserman 2004, 2.4), and the smooth stretch of the placement.
TEST(PoseDesign, ColumnsAreDerivativesOfWhatTheyStandFor) {
  const auto lettering = BoxLettering(7, 9);
  const PoseFrame frame = FrameOf(lettering);
  const PoseColumns columns = ColumnsOf(frame);
  constexpr double e = 1e-5;
  const std::vector<std::function<Point(Point)>> maps = {
      [](Point p) { return Point(p.x() + e, p.y()); },
      [](Point p) { return Point(p.x() * (1 + e), p.y()); },
      [](Point p) { return Point(p.x() + e * p.y(), p.y()); },
      [](Point p) { return Point(p.x(), p.y() + e); },
      [](Point p) { return Point(p.x(), p.y() + e * p.x()); },
      [](Point p) { return Point(p.x(), p.y() * (1 + e)); },
      [](Point p) { return Point(p / (1 - e * p.x())); },
      [](Point p) { return Point(p / (1 - e * p.y())); }};
  for (std::size_t k = 0; k < maps.size(); ++k) ExpectColumn(columns, frame, k, maps[k]);
  for (int k = 0; k < 2; ++k) {
    fit::SmoothStretch stretch;
    stretch.half_length = frame.half_length;
    stretch.along[static_cast<std::size_t>(k)] = e;
    ExpectColumn(columns, frame, maps.size() + static_cast<std::size_t>(k),
                 [stretch](Point p) { return Point(p + stretch.Displacement(p.x())); });
  }
}

// Pressing moves every edge outward: a width w becomes w + 2 g, for an amplitude of 2 g.
TEST(PoseDesign, GainActsByOneOverTheSize) {
  const auto lettering = BoxLettering(5, 6);
  const PoseFrame frame = FrameOf(lettering);
  const PoseColumns columns = ColumnsOf(frame);
  for (std::size_t c = 0; c < columns.kinds.size(); ++c) {
    if (columns.kinds[c] != EffectKind::kGainWidth) continue;
    for (std::size_t j = 0; j < frame.elements.size(); ++j) {
      const double width = outline::Bounds(lettering.elements[j].outline).width();
      EXPECT_NEAR(columns.rows[j](measure::kLogWidth, static_cast<Eigen::Index>(c)),
                  std::log((width + 1e-6) / width) / 1e-6, 1e-4);
    }
  }
}

}  // namespace
}  // namespace debossier::compare
