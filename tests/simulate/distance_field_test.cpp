#include "simulate/distance_field.h"

#include <gtest/gtest.h>

#include <cmath>

#include "simulate/plain_die.h"

namespace debossier::simulate {
namespace {

constexpr double kTolerance = 0.001;  // 0.1 % of the cap height.

Grid GridOver(double half) {
  Grid grid;
  grid.step = 1.0 / 110;
  grid.origin = Point(-half, -half);
  const int count = static_cast<int>(2 * half / grid.step) + 2;
  grid.size = cv::Size(count, count);
  return grid;
}

double At(const Field& field, const Grid& grid, const Point& p) {
  const Point cell = grid.CellOf(p);
  const int i = static_cast<int>(cell.x());
  const int j = static_cast<int>(cell.y());
  const double u = cell.x() - i;
  const double v = cell.y() - j;
  return (1 - v) * ((1 - u) * field(j, i) + u * field(j, i + 1)) +
         v * ((1 - u) * field(j + 1, i) + u * field(j + 1, i + 1));
}

// Signed distance to a disc: |p| - r.
TEST(DistanceField, AgreesWithDisc) {
  const Grid grid = GridOver(0.8);
  for (const double radius : {0.5, 0.1, 0.03}) {
    const outline::Lettering die = DieOf({outline::Ellipse({0, 0}, radius, radius)});
    const Field field = SignedDistance(Shapes(die), grid, 0.2);
    for (double angle = 0; angle < 6.28; angle += 0.0613) {
      for (const double out : {-0.02, -0.005, 0.0, 0.005, 0.05}) {
        const Point p = (radius + out) * Point(std::cos(angle), std::sin(angle));
        // outline.h allows the four cubics of an ellipse 3e-4 of the radius.
        EXPECT_NEAR(At(field, grid, p), out, kTolerance) << "radius " << radius;
      }
    }
  }
}

// Signed distance to an axis-aligned square of half side a: outside the length of the part beyond
// the sides, inside the distance to the nearest side.
TEST(DistanceField, AgreesWithSquare) {
  const Grid grid = GridOver(0.8);
  const double a = 0.4;
  const outline::Lettering die =
      DieOf({outline::Rectangle(outline::Box{Point(-a, -a), Point(a, a)})});
  const Field field = SignedDistance(Shapes(die), grid, 0.15);
  for (int j = 0; j < grid.size.height; ++j) {
    for (int i = 0; i < grid.size.width; ++i) {
      const Point q = grid.At(i, j).cwiseAbs() - Point(a, a);
      const double expected = q.maxCoeff() < 0 ? q.maxCoeff() : q.cwiseMax(0).norm();
      EXPECT_NEAR(field(j, i), std::clamp(expected, -0.15, 0.15), 1e-6);
    }
  }
}

TEST(DistanceField, LettersThatOverlapHaveNoEdgeBetween) {
  const Grid grid = GridOver(0.8);
  const outline::Lettering die =
      DieOf({outline::Rectangle(outline::Box{Point(-0.6, -0.3), Point(0.1, 0.3)}),
             outline::Rectangle(outline::Box{Point(-0.1, -0.3), Point(0.6, 0.3)})});
  const Field field = SignedDistance(Shapes(die), grid, 0.2);
  EXPECT_NEAR(At(field, grid, {0, 0}), -0.2, 1e-3);
  EXPECT_NEAR(At(field, grid, {0.1, 0.2}), -0.1, 2e-3);
  EXPECT_NEAR(At(field, grid, {0, 0.35}), 0.05, 2e-3);
}

TEST(DistanceField, CounterIsOutside) {
  const Grid grid = GridOver(0.8);
  outline::Lettering die = DieOf({outline::Ellipse({0, 0}, 0.5, 0.5)});
  die.elements[0].outline.contours.push_back(outline::Reversed(outline::Ellipse({0, 0}, 0.3, 0.3)));
  const Field field = SignedDistance(Shapes(die), grid, 0.2);
  EXPECT_NEAR(At(field, grid, {0.4, 0}), -0.1, kTolerance);
  EXPECT_NEAR(At(field, grid, {0.2, 0}), 0.1, kTolerance);
}

}  // namespace
}  // namespace debossier::simulate
