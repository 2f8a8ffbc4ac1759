#include "card/find_marks.h"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>
#include <optional>

#include "base/quantile.h"
#include "card/sample_grey.h"
#include "image/blocks.h"

namespace debossier::card {

namespace {

constexpr double kLeastContrast = 25;   // grey levels
constexpr double kLeastArea = 7;        // px of the reduced copy
constexpr double kMostStretched = 2.5;  // ratio of the axes: a tilt of 66 degrees
constexpr int kSamplesPerSector = 6;

/// A dot as its second moments have it: the unit circle under `axes`, symmetric.
struct Ellipse {
  Point centre;
  Eigen::Matrix2d axes;
  Point At(double radii, double angle) const {
    return centre + axes * Point(radii * std::cos(angle), radii * std::sin(angle));
  }
};

std::optional<Ellipse> EllipseOf(const std::vector<cv::Point>& contour, int reduction) {
  const cv::Moments m = cv::moments(contour);
  if (m.m00 < kLeastArea) return std::nullopt;
  // A filled ellipse has second moments of a quarter of its squared half axes. The contour runs
  // through the middles of its outermost pixels: it is half a pixel too small all round.
  Eigen::Matrix2d second;
  second << m.mu20, m.mu11, m.mu11, m.mu02;
  second *= 4 / m.m00;
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> solver(second);
  const Point half = solver.eigenvalues().cwiseMax(0).cwiseSqrt();
  if (half.x() < 1e-6 || half.y() > kMostStretched * (half.x() + 0.5)) return std::nullopt;
  // Of all shapes with these moments, how close to the ellipse?
  const double expected = std::numbers::pi * half.x() * half.y();
  if (std::abs(m.m00 / expected - 1) > 0.08 + 1 / half.y()) return std::nullopt;
  const Point grown = (half.array() + 0.5) * reduction;
  Ellipse e;
  const Point reduced(m.m10 / m.m00, m.m01 / m.m00);
  e.centre = (reduced.array() + 0.5) * reduction - 0.5;
  e.axes = solver.eigenvectors() * grown.asDiagonal() * solver.eigenvectors().transpose();
  return e;
}

double MedianOnCircle(const SampleGrey& grey, const Ellipse& e, double radius_mm) {
  std::vector<double> values;
  values.reserve(24);
  for (int k = 0; k < 24; ++k) {
    values.push_back(grey.At(e.At(radius_mm / kDotMm, 2 * std::numbers::pi * k / 24)));
  }
  return UpperMedian(values);
}

struct Reading {
  std::uint16_t word = 0;
  double phase = 0;  ///< Angle where the word's sector 0 begins, in the ellipse's unit circle.
};

std::optional<Reading> ReadRing(const SampleGrey& grey, const Ellipse& e, double black,
                                double white) {
  constexpr int kSamples = kSectors * kSamplesPerSector;
  std::array<double, kSamples> tone{};  // -1 black to 1 white
  for (int k = 0; k < kSamples; ++k) {
    const double angle = 2 * std::numbers::pi * (k + 0.5) / kSamples;
    double sum = 0;
    for (const double part : {0.25, 0.5, 0.75}) {
      const double radius = kRingInnerMm + part * (kRingOuterMm - kRingInnerMm);
      sum += grey.At(e.At(radius / kDotMm, angle)) / 3;
    }
    tone[static_cast<std::size_t>(k)] = (sum - 0.5 * (white + black)) / (0.5 * (white - black));
  }
  std::optional<Reading> best;
  double best_clear = 0;
  for (int phase = 0; phase < kSamplesPerSector; ++phase) {
    Reading reading;
    double clear = 0;
    double least = 1;
    for (int s = 0; s < kSectors; ++s) {
      double sum = 0;
      for (int k = 1; k + 1 < kSamplesPerSector; ++k) {
        sum += tone[static_cast<std::size_t>((phase + s * kSamplesPerSector + k) % kSamples)];
      }
      sum /= kSamplesPerSector - 2;
      if (sum < 0) reading.word |= static_cast<std::uint16_t>(1u << s);
      clear += std::abs(sum);
      least = std::min(least, std::abs(sum));
    }
    if (clear <= best_clear) continue;
    best_clear = clear;
    reading.phase = 2 * std::numbers::pi * phase / kSamples;
    best = least > 0.2 ? std::optional(reading) : std::nullopt;
  }
  return best;
}

std::optional<Mark> ReadMark(const SampleGrey& grey, const Ellipse& e) {
  const double black = grey.At(e.centre);
  const double white = MedianOnCircle(grey, e, 0.5 * (kDotMm + kRingInnerMm));
  if (white - black < kLeastContrast) return std::nullopt;
  if (MedianOnCircle(grey, e, 0.5 * kDotMm) > 0.5 * (black + white)) return std::nullopt;
  if (MedianOnCircle(grey, e, 0.5 * (kRingOuterMm + kQuietMm)) < 0.5 * (black + white)) {
    return std::nullopt;
  }
  const auto reading = ReadRing(grey, e, black, white);
  if (!reading) return std::nullopt;
  const auto fiducials = Fiducials();
  constexpr unsigned kAll = (1u << kSectors) - 1;
  for (int turn = 0; turn < kSectors; ++turn) {
    const unsigned turned = ((reading->word >> turn) | (reading->word << (kSectors - turn))) & kAll;
    for (std::size_t i = 0; i < fiducials.size(); ++i) {
      if (fiducials[i].code != turned) continue;
      Mark mark;
      mark.fiducial_idx = static_cast<int>(i);
      mark.centre = e.centre;
      mark.radius_px = std::sqrt(e.axes.determinant());
      const double angle = reading->phase + 2 * std::numbers::pi * turn / kSectors;
      mark.sector_zero = (e.At(1, angle) - e.centre).normalized();
      mark.contrast = white - black;
      return mark;
    }
  }
  return std::nullopt;
}

}  // namespace

std::vector<Mark> FindMarks(const cv::Mat& grey, int reduction) {
  if (reduction > std::min(grey.cols, grey.rows)) return {};
  const cv::Mat reduced = reduction > 1 ? image::BlockMeans(grey, reduction) : grey;
  const SampleGrey sample(grey);
  std::vector<Mark> marks;
  // Against the mean of a window some dots wide; the size of a dot is not known.
  for (const int window : {15, 41, 101, 251}) {
    if (window > 2 * std::min(reduced.cols, reduced.rows)) break;
    cv::Mat dark;
    cv::adaptiveThreshold(reduced, dark, 255, cv::ADAPTIVE_THRESH_MEAN_C, cv::THRESH_BINARY_INV,
                          window, 7);
    std::vector<std::vector<cv::Point>> contours;
    cv::findContours(dark, contours, cv::RETR_LIST, cv::CHAIN_APPROX_NONE);
    for (const auto& contour : contours) {
      if (contour.size() < 8 || contour.size() > 3 * static_cast<std::size_t>(window)) continue;
      const auto ellipse = EllipseOf(contour, reduction);
      if (!ellipse) continue;
      const auto mark = ReadMark(sample, *ellipse);
      if (!mark) continue;
      const auto same = std::find_if(marks.begin(), marks.end(), [&](const Mark& m) {
        return m.fiducial_idx == mark->fiducial_idx &&
               (m.centre - mark->centre).norm() < m.radius_px;
      });
      if (same == marks.end()) marks.push_back(*mark);
    }
  }
  return marks;
}

}  // namespace debossier::card
