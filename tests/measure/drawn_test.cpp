// Every measured length against the drawing that was measured: boxes and outlines in closed form.
//
// Lengths are held to 3 standard uncertainties, and these to a share of the cap height: neither a
// wrong number nor a u that excuses everything passes.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

#include "base/quantile.h"
#include "measure/measure_photo.h"
#include "separate/coverage.h"
#include "support/stamp_photo.h"

namespace debossier::measure {
namespace {

constexpr double kCapPx = 90;
constexpr double kMostU = 0.012;  // cap heights
/// What the placement of the whole takes up of one change, cap heights.
constexpr double kTakenUp = 0.002;

outline::Lettering Reference() {
  return test::DrawnLettering({{"MARWIGGE", 1}, {"MADE IN VALDORE", 0.5}});
}

void Transform(outline::Element& e, const outline::Affine& by) {
  e.outline = outline::Transformed(e.outline, by);
}

outline::Affine Shift(double x, double y) {
  outline::Affine by;
  by.linear = Eigen::Matrix2d::Identity();
  by.offset = {x, y};
  return by;
}

/// `linear` about a point.
outline::Affine About(const Eigen::Matrix2d& linear, const outline::Point& point) {
  outline::Affine by;
  by.linear = linear;
  by.offset = point - linear * point;
  return by;
}

/// Photographs `drawn` and measures it against `reference`.
Measurements Measured(const outline::Lettering& reference, const outline::Lettering& drawn,
                      double degrees) {
  const cv::Size size(1100, 420);
  const auto photo = test::DrawStamp(drawn, test::Placed(reference, kCapPx, degrees, size), size);
  const auto placed = fit::PlaceLettering(photo, reference);
  EXPECT_TRUE(placed) << placed.error().ToString();
  return placed ? MeasurePhoto(reference, *placed) : Measurements();
}

/// The same of the reference as `change` leaves it.
Measurements Measured(const std::function<void(outline::Lettering&)>& change, double degrees = 4) {
  const auto reference = Reference();
  auto drawn = reference;
  change(drawn);
  return Measured(reference, drawn, degrees);
}

void ExpectLength(const debossier::Measured& m, double expected, const std::string& what,
                  double most_u = kMostU) {
  EXPECT_NEAR(m.value, expected, 3 * m.u) << what << ", u " << m.u;
  EXPECT_GT(m.u, 0) << what;
  EXPECT_LT(m.u, most_u) << what;
}

/// Left edge of an element less the right edge of the one before.
double GapOf(const outline::Lettering& lettering, const std::string& left,
             const std::string& right) {
  outline::Box a, b;
  for (const auto& e : lettering.elements) {
    if (e.id == left) a = outline::Bounds(e.outline);
    if (e.id == right) b = outline::Bounds(e.outline);
  }
  return b.min.x() - a.max.x();
}

TEST(DrawnStamp, UnchangedIsTheReference) {
  const auto reference = Reference();
  const Measurements m = Measured([](outline::Lettering&) {});
  ASSERT_EQ(m.elements.size(), reference.elements.size());
  EXPECT_EQ(m.gaps.size(), 7u + 12u) << "neighbours on each line";
  for (const auto& gap : m.gaps) {
    ExpectLength(gap.value, GapOf(reference, gap.left, gap.right), gap.left + " " + gap.right);
  }
  for (std::size_t i = 0; i < m.elements.size(); ++i) {
    const auto& e = m.elements[i];
    ASSERT_TRUE(e.found) << e.id;
    const outline::Box box = outline::Bounds(reference.elements[i].outline);
    ExpectLength(e.height_ratio, box.height(), "height of " + e.id);
    ExpectLength(e.width, box.width(), "width of " + e.id);
    EXPECT_NEAR(e.slant_deg.value, 0, 3 * e.slant_deg.u) << e.id;
    EXPECT_LT(e.shape.smooth_rms, 0.01) << e.id;
    EXPECT_LT(e.shape.missing, 0.05) << e.id;
  }
  EXPECT_EQ(m.frame.kind, outline::FrameKind::kNone);
  EXPECT_FALSE(m.mark.found);
}

TEST(DrawnStamp, QualityIsThePhotos) {
  const Measurements m = Measured([](outline::Lettering&) {}, 7);
  EXPECT_NEAR(m.quality.cap_height_px, kCapPx, 0.01 * kCapPx);
  EXPECT_NEAR(m.quality.turn_deg, 7, 0.1);
  EXPECT_NEAR(m.quality.tilt_deg, 0, 4);
  EXPECT_NEAR(m.quality.anisotropy, 0, 0.01);
  // A Gaussian of 1 px on pixels that are means over a square, and the smoothing before reading.
  const double smoothing = separate::SmoothingFor(kCapPx);
  EXPECT_NEAR(m.quality.blur_px, std::sqrt(1 + 1 / 12.0 + smoothing * smoothing), 0.15);
  EXPECT_GT(m.quality.coverage, 0.97);
}

TEST(DrawnStamp, AWiderGap) {
  const auto widen = [](outline::Lettering& l) {
    for (auto& e : l.elements) {
      if (e.id >= "wordmark.4" && e.line_idx == 0) Transform(e, Shift(0.06, 0));
    }
  };
  auto drawn = Reference();
  widen(drawn);
  const Measurements m = Measured(widen);
  const auto reference = Reference();
  for (const auto& gap : m.gaps) {
    const bool is_wider = gap.right == "wordmark.4";
    EXPECT_NEAR(gap.value.value - GapOf(reference, gap.left, gap.right), is_wider ? 0.06 : 0,
                3 * gap.value.u + kTakenUp)
        << gap.left << " " << gap.right;
  }
}

TEST(DrawnStamp, ALargerLetterAndASlantedOne) {
  const Measurements m = Measured([](outline::Lettering& l) {
    for (auto& e : l.elements) {
      const outline::Box box = outline::Bounds(e.outline);
      if (e.id == "wordmark.2") {
        Transform(e, About(1.06 * Eigen::Matrix2d::Identity(), {box.centre().x(), 0}));
      }
      Eigen::Matrix2d slanted;
      slanted << 1, std::tan(3 * 3.14159265358979 / 180), 0, 1;
      if (e.id == "wordmark.5") Transform(e, About(slanted, box.centre()));
    }
  });
  std::vector<double> slants;
  double u = 0;
  for (const auto& e : m.elements) {
    if (e.line_idx != 0) continue;
    const double size = e.id == "wordmark.2" ? 1.06 : 1;
    ExpectLength(e.relative_height, size, "relative height of " + e.id);
    slants.push_back(e.slant_deg.value);
    u = std::max(u, e.slant_deg.u);
  }
  // Against the others: the placement of the whole takes up a part of it.
  EXPECT_NEAR(slants[5] - Median(slants), 3, 3 * u);
}

TEST(DrawnStamp, ALargerLineAndAWiderSpacedOne) {
  const auto reference = Reference();
  outline::Box line;
  for (const auto& e : reference.elements) {
    if (e.line_idx == 1) line.Add(outline::Bounds(e.outline));
  }
  const Measurements larger = Measured([&](outline::Lettering& l) {
    for (auto& e : l.elements) {
      if (e.line_idx == 1) Transform(e, About(1.05 * Eigen::Matrix2d::Identity(), line.centre()));
    }
  });
  ASSERT_EQ(larger.lines.size(), 2u);
  ExpectLength(larger.lines[1].relative_size, 1.05, "size of the line");
  ExpectLength(larger.lines[1].tracking, 0, "its spacing");
  // Every letter a hundredth of the wordmark's cap height further from the one before.
  const Measurements spaced = Measured([&](outline::Lettering& l) {
    int i = 0;
    for (auto& e : l.elements) {
      if (e.line_idx == 1) Transform(e, Shift(0.01 * (i++ - 6), 0));
    }
  });
  ExpectLength(spaced.lines[1].relative_size, 1, "size of the spaced line");
  // In cap heights of the line, for each advance.
  ExpectLength(spaced.lines[1].tracking, 0.02, "spacing of the spaced line");
}

TEST(DrawnStamp, LinesThatAreMoved) {
  const Measurements m = Measured([](outline::Lettering& l) {
    for (auto& e : l.elements) {
      if (e.line_idx == 1) Transform(e, Shift(0.05, -0.08));
    }
  });
  ExpectLength(m.lines[1].offset_x, 0.05, "to the right", 0.02);
  ExpectLength(m.lines[1].offset_y, -0.08, "down", 0.02);
}

/// The reference with a ring for a mark, its left edge `gap` right of the last letter.
outline::Lettering WithMark(double gap, double size, double rise) {
  auto lettering = Reference();
  outline::Box word;
  for (const auto& e : lettering.elements) {
    if (e.line_idx == 0) word.Add(outline::Bounds(e.outline));
  }
  outline::Element mark{"wordmark.mark", 0, outline::ElementKind::kMark, "®", {}};
  const outline::Point centre(word.max.x() + gap + size / 2, rise + size / 2);
  mark.outline.contours = {
      outline::Ellipse(centre, size / 2, size / 2),
      outline::Reversed(outline::Ellipse(centre, size / 2 - 0.05, size / 2 - 0.05))};
  lettering.elements.push_back(mark);
  return lettering;
}

TEST(DrawnStamp, AMarkFurtherAndLarger) {
  const auto drawn = WithMark(0.2, 0.36, 0.66);
  const Measurements m = Measured(WithMark(0.12, 0.34, 0.68), drawn, 4);
  ASSERT_TRUE(m.mark.found);
  ExpectLength(m.mark.gap, 0.2, "gap");
  ExpectLength(m.mark.size, 0.36, "size");
  ExpectLength(m.mark.rise, 0.66, "rise");
}

TEST(DrawnStamp, AFrameOfAnotherSize) {
  auto reference = Reference();
  outline::Box line;
  for (const auto& e : reference.elements) {
    if (e.line_idx == 1) line.Add(outline::Bounds(e.outline));
  }
  reference.frame = {
      outline::FrameKind::kEllipse, line.centre(), {line.width() * 0.62, 0.62}, 0.05, 1};
  auto drawn = reference;
  drawn.frame.radius = {line.width() * 0.62 + 0.05, 0.65};
  drawn.elements.push_back(
      {"frame", 1, outline::ElementKind::kMark, "o", outline::FrameOutline(drawn.frame)});
  const Measurements m = Measured(reference, drawn, 4);
  ASSERT_TRUE(m.frame.decided);
  EXPECT_EQ(m.frame.kind, outline::FrameKind::kEllipse);
  EXPECT_GT(m.frame.seen, 0.9);
  const auto& radius = drawn.frame.radius;
  ExpectLength(m.frame.half_width, radius.x(), "half width");
  ExpectLength(m.frame.half_height, radius.y(), "half height");
  ExpectLength(m.frame.line_weight, 0.05, "weight of the rule", 0.03);
}

// Twice the area over the perimeter is the width of a long straight stroke (and its exact value for
// the outline itself); the gain is common and is taken out.
TEST(DrawnStamp, StrokeWeights) {
  const auto reference = Reference();
  const Measurements m = Measured([](outline::Lettering&) {});
  for (std::size_t i = 0; i < m.elements.size(); ++i) {
    const auto& outline = reference.elements[i].outline;
    const double weight = 2 * outline::SignedArea(outline) / outline::Perimeter(outline);
    EXPECT_NEAR(m.elements[i].stroke.value, weight, 3 * m.elements[i].stroke.u + 0.002)
        << m.elements[i].id;
  }
  // The drawing mixes codes where a camera mixes light, which makes dark lettering seem heavier.
  EXPECT_NEAR(m.gain.value, 0, 3 * m.gain.u + 0.006);
}

}  // namespace
}  // namespace debossier::measure
