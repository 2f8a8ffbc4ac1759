// Outlines against closed forms: areas, lengths, boxes, normals, winding.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "outline/outline.h"

namespace debossier::outline {
namespace {

using std::numbers::pi;

Outline Of(std::initializer_list<Contour> contours) { return {contours}; }

Segment Line(const Point& end) { return {true, Point::Zero(), Point::Zero(), end}; }

Contour Square(double side, const Point& corner = Point::Zero()) {
  return Rectangle({corner, corner + Point(side, side)});
}

/// One cubic, closed by a straight line back to its start.
Contour Closed(const Point& p0, const Point& p1, const Point& p2, const Point& p3) {
  return {p0, {{false, p1, p2, p3}, Line(p0)}};
}

/// y = x^2 from 0 to 1 (a quadratic raised to a cubic), then down and back along the axis.
Contour ParabolaSegment() {
  return {{0, 0}, {{false, {1. / 3, 0}, {2. / 3, 1. / 3}, {1, 1}}, Line({1, 0}), Line({0, 0})}};
}

/// Neile's parabola (t^2, t^3), -1 <= t <= 1, which is one cubic with a cusp in its middle; closed.
Contour NeileParabola() { return Closed({1, -1}, {-1. / 3, 1}, {-1. / 3, -1}, {1, 1}); }

double DistanceToSegment(const Point& p, const Point& a, const Point& b) {
  const Point edge = b - a;
  const double t = std::clamp((p - a).dot(edge) / edge.squaredNorm(), 0.0, 1.0);
  return (a + t * edge - p).norm();
}

double DistanceToPolyline(const Point& p, const Polyline& polyline) {
  double nearest = 1e300;
  for (std::size_t i = 0; i < polyline.size(); ++i) {
    nearest =
        std::min(nearest, DistanceToSegment(p, polyline[i], polyline[(i + 1) % polyline.size()]));
  }
  return nearest;
}

TEST(Area, OfCubicByGreensTheorem) {
  // Controls (0,0) (0,1) (1,1) (1,0): x = 3t^2 - 2t^3, y = 3t(1-t); the area under it is
  // the integral of 18 t^2 (1-t)^2 = 18 B(3,3) = 3/5. Up and over to the right is clockwise.
  EXPECT_NEAR(SignedArea(Closed({0, 0}, {0, 1}, {1, 1}, {1, 0})), -0.6, 1e-15);
  EXPECT_NEAR(SignedArea(ParabolaSegment()), -1. / 3, 1e-15);
}

TEST(Area, KeepsItsDigitsFarFromTheOrigin) {
  EXPECT_NEAR(SignedArea(Square(1, {1e6, -1e6})), 1, 1e-9);
  const Contour near = Ellipse({0, 0}, 1, 1);
  EXPECT_NEAR(SignedArea(Ellipse({1e5, 1e5}, 1, 1)), SignedArea(near), 1e-9);
}

TEST(Area, OfEllipseAndRing) {
  // pi a b; the four cubics stay within 2.8e-4 of the radius, outside, so within 5.5e-4 of the
  // area.
  EXPECT_NEAR(SignedArea(Ellipse({3, 4}, 2, 0.5)), pi, 5.5e-4 * pi);
  const Outline ring = Of({Ellipse({0, 0}, 2, 2), Reversed(Ellipse({0, 0}, 1, 1))});
  EXPECT_NEAR(SignedArea(ring), 3 * pi, 5.5e-4 * 3 * pi);
}

TEST(Ellipse, StaysWithinItsStatedRadialError) {
  for (const Polyline& polyline : Flatten(Of({Ellipse({1, 2}, 10, 10)}), 1e-7)) {
    for (const Point& p : polyline) {
      const double radius = (p - Point(1, 2)).norm();
      EXPECT_GE(radius, 10 - 1e-9);
      EXPECT_LE(radius, 10 * (1 + 3e-4));
    }
  }
}

TEST(Perimeter, OfClosedForms) {
  // y = x^2 on [0, 1]: sqrt(5)/2 + asinh(2)/4, and the two legs of length 1.
  const double parabola = std::sqrt(5) / 2 + std::asinh(2) / 4 + 2;
  EXPECT_NEAR(Perimeter(Of({ParabolaSegment()})), parabola, 1e-6 * parabola);
  // Neile (1657): the length of (t^2, t^3) on [0, 1] is (13 sqrt(13) - 8) / 27.
  const double neile = 2 * (13 * std::sqrt(13) - 8) / 27 + 2;
  EXPECT_NEAR(Perimeter(Of({NeileParabola()})), neile, 1e-6 * neile);
  EXPECT_NEAR(Perimeter(Of({Square(3), Reversed(Square(1, {1, 1}))})), 16, 1e-14);
}

TEST(Perimeter, OfEllipseByTheCompleteEllipticIntegral) {
  const double exact = 4 * 2 * std::comp_ellint_2(std::sqrt(1 - 1. / 4));
  EXPECT_NEAR(Perimeter(Of({Ellipse({0, 0}, 2, 1)})), exact, 3e-4 * exact);
}

TEST(Bounds, AreThoseOfTheCurveNotOfItsControls) {
  // y = 3t(1-t) has its maximum 3/4 at t = 1/2.
  const Box arch = Bounds(Closed({0, 0}, {0, 1}, {1, 1}, {1, 0}));
  EXPECT_NEAR(arch.max.y(), 0.75, 1e-15);
  EXPECT_EQ(arch.min.y(), 0);
  EXPECT_EQ(arch.max.x(), 1);
  const Box neile = Bounds(NeileParabola());
  EXPECT_NEAR(neile.min.x(), 0, 1e-15);
  EXPECT_NEAR(neile.max.y(), 1, 1e-15);
  // Cubic in one coordinate with two inner extremes: y = t(1-t)(1-2t), at t = (3 +- sqrt 3)/6,
  // extremes +- sqrt(3)/18.
  const Box wave = Bounds(Closed({0, 0}, {1, 1. / 3}, {2, -1. / 3}, {3, 0}));
  EXPECT_NEAR(wave.max.y(), std::sqrt(3) / 18, 1e-15);
  EXPECT_NEAR(wave.min.y(), -std::sqrt(3) / 18, 1e-15);
}

TEST(Bounds, OfNothingAreEmpty) {
  EXPECT_TRUE(Bounds(Outline{}).empty());
  EXPECT_TRUE(Box{}.empty());
}

TEST(Flatten, StaysWithinToleranceAndUsesFewerPointsWhereItMay) {
  const std::vector<Outline> shapes{Of({Ellipse({0, 0}, 3, 1)}), Of({NeileParabola()}),
                                    Of({ParabolaSegment()})};
  for (const Outline& shape : shapes) {
    const Polyline truth = Flatten(shape, 1e-8).front();
    std::size_t before = truth.size();
    for (const double tolerance : {1e-5, 1e-4, 1e-3, 1e-2}) {
      const Polyline coarse = Flatten(shape, tolerance).front();
      EXPECT_LT(coarse.size(), before);
      before = coarse.size();
      for (std::size_t i = 0; i < truth.size(); i += 7) {
        ASSERT_LE(DistanceToPolyline(truth[i], coarse), tolerance + 1e-8);
      }
    }
  }
}

TEST(Flatten, DoesNotRepeatTheFirstPoint) {
  const auto polylines = Flatten(Of({Square(2)}), 0.1);
  ASSERT_EQ(polylines.size(), 1u);
  EXPECT_EQ(polylines.front().size(), 4u);
}

TEST(SampleEdge, StandsAtEqualStepsWithRadialNormals) {
  const Outline circle = Of({Ellipse({0, 0}, 1, 1)});
  const auto samples = SampleEdge(circle, 0.01);
  const double length = Perimeter(circle);
  ASSERT_EQ(samples.size(), static_cast<std::size_t>(std::lround(length / 0.01)));
  for (std::size_t i = 0; i < samples.size(); ++i) {
    EXPECT_NEAR(samples[i].length, length / static_cast<double>(samples.size()), 1e-9);
    EXPECT_NEAR(samples[i].normal.norm(), 1, 1e-14);
    // The four-cubic circle's tangent turns at most 1.3e-3 away from the true one.
    EXPECT_GT(samples[i].normal.dot(samples[i].point.normalized()), 1 - 1e-6);
    const EdgeSample& next = samples[(i + 1) % samples.size()];
    // Chord of an arc of this length, radius 1: 2 sin(l/2); the radius varies by 2.8e-4.
    EXPECT_NEAR((next.point - samples[i].point).norm(), 2 * std::sin(samples[i].length / 2), 4e-6);
  }
}

TEST(SampleEdge, ObeysTheDivergenceTheorem) {
  // The flux of a constant field is zero, that of p/2 is the filled area; also with a counter.
  const Outline ring = Of({Ellipse({5, 3}, 2, 1), Reversed(Ellipse({5, 3}, 1, 0.4))});
  Point flux = Point::Zero();
  double area = 0;
  for (const EdgeSample& sample : SampleEdge(ring, 0.002)) {
    flux += sample.length * sample.normal;
    area += 0.5 * sample.length * sample.normal.dot(sample.point);
  }
  EXPECT_NEAR(flux.norm(), 0, 1e-4);
  EXPECT_NEAR(area, SignedArea(ring), 1e-4);
}

TEST(SampleEdge, PointsAwayFromTheFillAlsoInACounter) {
  const Outline ring = Of({Ellipse({0, 0}, 2, 2), Reversed(Ellipse({0, 0}, 1, 1))});
  for (const EdgeSample& sample : SampleEdge(ring, 0.05)) {
    const double outward = sample.contour_idx == 0 ? 1 : -1;
    EXPECT_GT(outward * sample.normal.dot(sample.point.normalized()), 0.999);
  }
}

TEST(SampleEdge, GivesACornerTheNormalOfOneOfItsSides) {
  // 10 steps around a square of side 10: samples 2, 4.. stand on corners or near them.
  const auto samples = SampleEdge(Of({Square(10)}), 4);
  ASSERT_EQ(samples.size(), 10u);
  for (const EdgeSample& sample : samples) {
    EXPECT_NEAR(sample.normal.cwiseAbs().maxCoeff(), 1, 1e-15);
    EXPECT_NEAR(sample.normal.cwiseAbs().minCoeff(), 0, 1e-15);
    const Point outside = sample.point + 1e-6 * sample.normal;
    EXPECT_FALSE(Contains({{{0, 0}, {10, 0}, {10, 10}, {0, 10}}}, outside));
  }
}

TEST(SampleEdge, TakesAtLeastEightAndBearsDegenerateParts) {
  EXPECT_EQ(SampleEdge(Of({Square(1)}), 100).size(), 8u);
  // Handles of no length, a line of no length, a contour that is a point.
  const Contour odd{{0, 0},
                    {{false, {0, 0}, {2, 2}, {2, 2}}, Line({2, 2}), Line({0, 2}), Line({0, 0})}};
  const Contour point{{7, 7}, {Line({7, 7})}};
  const auto samples = SampleEdge(Of({odd, point}), 0.1);
  ASSERT_GT(samples.size(), 8u);
  for (const EdgeSample& sample : samples) {
    EXPECT_EQ(sample.contour_idx, 0);
    EXPECT_NEAR(sample.normal.norm(), 1, 1e-12);
  }
}

TEST(Transformed, ScalesAreaAndKeepsDirectionWhenMirrored) {
  const Outline ring = Of({Ellipse({1, 2}, 2, 1), Reversed(Ellipse({1, 2}, 1, 0.5))});
  Affine map;
  map.linear << 2, 1, -0.5, 1.5;
  map.offset = Point(10, 20);
  EXPECT_NEAR(SignedArea(Transformed(ring, map)), 3.5 * SignedArea(ring), 1e-12);
  Affine mirror;
  mirror.linear << -1, 0, 0, 1;
  const Outline mirrored = Transformed(ring, mirror);
  EXPECT_NEAR(SignedArea(mirrored), SignedArea(ring), 1e-12);
  EXPECT_GT(SignedArea(mirrored.contours[0]), 0);
  EXPECT_LT(SignedArea(mirrored.contours[1]), 0);
  EXPECT_NEAR(Bounds(mirrored).min.x(), -3, 1e-15);
  for (const EdgeSample& sample : SampleEdge(Of({mirrored.contours[0]}), 0.1)) {
    EXPECT_GT(sample.normal.dot(sample.point - Point(-1, 2)), 0);
  }
}

TEST(Reversed, TurnsTheTravelOnly) {
  const Contour contour = NeileParabola();
  const Contour reversed = Reversed(contour);
  EXPECT_NEAR(SignedArea(reversed), -SignedArea(contour), 1e-15);
  EXPECT_EQ(reversed.start, contour.start);
  EXPECT_EQ(reversed.segments.back().end, reversed.start);
  const Contour twice = Reversed(reversed);
  for (std::size_t i = 0; i < contour.segments.size(); ++i) {
    EXPECT_EQ(twice.segments[i].end, contour.segments[i].end);
    EXPECT_EQ(twice.segments[i].control1, contour.segments[i].control1);
  }
}

TEST(Contains, FollowsTheNonzeroRule) {
  // The pentagram's middle has winding number 2: inside by nonzero, outside by even-odd.
  Polyline star;
  for (int i = 0; i < 5; ++i) {
    const double angle = pi / 2 + i * 4 * pi / 5;
    star.emplace_back(std::cos(angle), std::sin(angle));
  }
  EXPECT_TRUE(Contains({star}, {0, 0}));
  EXPECT_TRUE(Contains({star}, {0, 0.8}));
  EXPECT_FALSE(Contains({star}, {0, -0.9}));
  const auto ring = Flatten(Of({Square(4), Reversed(Square(2, {1, 1}))}), 0.1);
  EXPECT_TRUE(Contains(ring, {0.5, 0.5}));
  EXPECT_FALSE(Contains(ring, {2, 2}));
  EXPECT_FALSE(Contains(ring, {5, 2}));
  // A vertex level with the point counts once, not twice.
  EXPECT_TRUE(Contains({{{-1, 0}, {0, -1}, {1, 0}, {0, 1}}}, {0, 0}));
  EXPECT_FALSE(Contains({{{-1, 0}, {0, -1}, {1, 0}, {0, 1}}}, {-2, 0}));
}

TEST(WithStandardDirection, AlternatesByNesting) {
  // Like a registered sign: ring outside and inside, a letter in it with its counter; all the
  // wrong way or at random.
  const std::vector<Contour> nested{Ellipse({0, 0}, 4, 4), Ellipse({0, 0}, 3, 3),
                                    Square(2, {-1, -1}), Square(0.5, {0, 0})};
  for (unsigned turned = 0; turned < 16; ++turned) {
    Outline outline;
    for (std::size_t i = 0; i < nested.size(); ++i) {
      outline.contours.push_back((turned >> i & 1u) != 0 ? Reversed(nested[i]) : nested[i]);
    }
    const Outline standard = WithStandardDirection(outline);
    for (std::size_t i = 0; i < nested.size(); ++i) {
      EXPECT_EQ(SignedArea(standard.contours[i]) > 0, i % 2 == 0);
    }
  }
}

TEST(WithStandardDirection, DoesNotTakeOverlapForNesting) {
  // An upright and a crossbar that mostly lies in it.
  const Outline cross =
      Of({Rectangle({{0, 0}, {2, 10}}), Reversed(Rectangle({{-0.2, 4}, {2.1, 5}}))});
  for (const Contour& contour : WithStandardDirection(cross).contours) {
    EXPECT_GT(SignedArea(contour), 0);
  }
  EXPECT_TRUE(WithStandardDirection(Outline{}).empty());
}

TEST(Shapes, RectangleAndPolylineCloseOnce) {
  const Contour square = Square(2, {1, 1});
  EXPECT_EQ(square.segments.size(), 4u);
  EXPECT_EQ(square.segments.back().end, square.start);
  EXPECT_NEAR(SignedArea(square), 4, 1e-15);
  // A polyline that repeats its first point gives the same.
  EXPECT_EQ(FromPolyline({{0, 0}, {1, 0}, {1, 1}, {0, 0}}).segments.size(), 3u);
}

TEST(Append, CopiesContoursAlsoOfItself) {
  Outline outline = Of({Square(1)});
  Append(outline, outline);
  EXPECT_EQ(outline.contours.size(), 2u);
  EXPECT_NEAR(SignedArea(outline), 2, 1e-15);
}

}  // namespace
}  // namespace debossier::outline
