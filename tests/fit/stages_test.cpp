// Each stage of the fit by itself, on coverage that was drawn from known outlines at a known place:
// what it gives back is what was drawn.
#include <gtest/gtest.h>

#include <cmath>

#include "fit/correct_whole.h"
#include "fit/edge_blur.h"
#include "fit/find_element.h"
#include "fit/fit_element.h"
#include "fit/fit_whole.h"
#include "support/stamp_photo.h"

namespace debossier::fit {
namespace {

constexpr double kCapPx = 140;
constexpr double kBlurPx = 1;
const cv::Size kSize(1700, 620);

outline::Lettering Reference() {
  return test::DrawnLettering({{"MARWIGGE", 1}, {"MADE IN VALDORE", 0.5}});
}

/// A turn of 3 degrees and a tilt that makes one end 4 % larger than the other.
Placement Tilted(const outline::Lettering& lettering) {
  const Point c = outline::Bounds(lettering).centre();
  Eigen::Matrix3d tilt = Eigen::Matrix3d::Identity();
  tilt(2, 0) = 0.04 / outline::Bounds(lettering).width();
  tilt(2, 2) = 1 - tilt(2, 0) * c.x();
  Placement placement;
  placement.photo_from_stamp = test::Placed(lettering, kCapPx, 3, kSize) * tilt;
  return placement;
}

cv::Mat Coverage(const outline::Lettering& lettering, const Placement& placement,
                 double blur_px = kBlurPx) {
  cv::Mat alpha;
  test::DrawCoverage(lettering, placement.photo_from_stamp, kSize)
      .convertTo(alpha, CV_32F, 1 / 255.0);
  cv::GaussianBlur(alpha, alpha, cv::Size(), blur_px);
  return alpha;
}

/// The furthest that any corner of the lettering's box lies from where it belongs, cap heights.
double CornersApart(const outline::Lettering& lettering, const Placement& a, const Placement& b) {
  const outline::Box box = outline::Bounds(lettering);
  double most = 0;
  for (const Point& corner :
       {box.min, box.max, Point(box.min.x(), box.max.y()), Point(box.max.x(), box.min.y())}) {
    most = std::max(most, (a.ToPhoto(corner) - b.ToPhoto(corner)).norm() / kCapPx);
  }
  return most;
}

outline::Element& Find(outline::Lettering& lettering, const std::string& id) {
  for (auto& e : lettering.elements) {
    if (e.id == id) return e;
  }
  throw std::runtime_error("no element " + id);
}

/// Fits every element of `reference` by itself.
std::vector<ElementFit> FitAll(const cv::Mat& alpha, const outline::Lettering& reference,
                               const Placement& placement) {
  const EdgeReader reader(alpha, placement);
  ElementOptions options;
  options.map_px_per_cap = kCapPx;
  std::vector<ElementFit> fits;
  for (const auto& e : reference.elements) {
    if (e.line_idx > 0) options.window = 0.045;
    fits.push_back(FitElement(reader, SampledOutline(e.outline, options.step),
                              ElementVector::Zero(), options));
  }
  return fits;
}

TEST(FitStages, TheWholeGoesBackToWhereItWasDrawn) {
  const auto reference = Reference();
  const Placement truth = Tilted(reference);
  const cv::Mat alpha = Coverage(reference, truth);
  Placement start = truth;
  WarpIncrement off = WarpIncrement::Zero();
  off << 0.05, 0.004, 0.01, -0.04, 0.003, 0.01, 0, 0;
  ApplyIncrement(off, outline::Bounds(reference).centre(), start);
  ASSERT_GT(CornersApart(reference, start, truth), 0.04);
  const WholeReport report = FitWhole(alpha, reference, start, 0.16, 0.06);
  EXPECT_LT(CornersApart(reference, report.placement, truth), 0.004);
  EXPECT_NEAR(report.placement.gain, 0, 0.002);
  EXPECT_GT(report.edges_found, 0.97);
  EXPECT_LT(report.residual, 0.01);
}

TEST(FitStages, TheWholeFindsTheStrokesGain) {
  const auto reference = test::DrawnLettering({{"MARE", 1}});
  const cv::Size size(700, 240);
  Placement truth;
  truth.photo_from_stamp = test::Placed(reference, kCapPx, 2, size);
  constexpr double kGain = 0.02;  // cap heights
  // Every point within the gain of the outline's inside (Minkowski sum with a disc).
  constexpr int kFine = 3;
  Eigen::Matrix3d fine_from_photo = Eigen::Matrix3d::Identity();
  fine_from_photo.diagonal() << kFine, kFine, 1;
  fine_from_photo(0, 2) = fine_from_photo(1, 2) = (kFine - 1) / 2.0;
  const cv::Mat inside =
      test::DrawCoverage(reference, fine_from_photo * truth.photo_from_stamp, size * kFine) > 127;
  cv::Mat distance, alpha;
  cv::distanceTransform(~inside, distance, cv::DIST_L2, cv::DIST_MASK_PRECISE);
  const cv::Mat grown = distance < kGain * kCapPx * kFine + 0.5;
  cv::resize(grown, alpha, size, 0, 0, cv::INTER_AREA);
  alpha.convertTo(alpha, CV_32F, 1 / 255.0);
  cv::GaussianBlur(alpha, alpha, cv::Size(), kBlurPx);
  const WholeReport report = FitWhole(alpha, reference, truth, 0.16, 0.06);
  EXPECT_NEAR(report.placement.gain, kGain, 0.0025);
  EXPECT_LT(CornersApart(reference, report.placement, truth), 0.006);
}

TEST(FitStages, AnElementIsWhereItWasDrawn) {
  const auto reference = Reference();
  const Placement truth = Tilted(reference);
  auto drawn = reference;
  const outline::Affine by = {Eigen::Vector2d(1.04, 0.97).asDiagonal(), {0, 0}};
  outline::Element& moved = Find(drawn, "wordmark.3");
  const Point centre = outline::Bounds(moved.outline).centre();
  const Point shift(0.03, -0.02);
  moved.outline =
      outline::Transformed(moved.outline, {by.linear, centre - by.linear * centre + shift});
  const auto fits = FitAll(Coverage(drawn, truth), reference, truth);
  for (std::size_t i = 0; i < fits.size(); ++i) {
    const ElementFit& fit = fits[i];
    const std::string& id = reference.elements[i].id;
    ASSERT_TRUE(fit.found) << id;
    ElementVector expected = ElementVector::Zero();
    if (id == "wordmark.3") expected.head<4>() << shift, std::log(1.04), std::log(0.97);
    for (const int k : {kShiftX, kShiftY, kLogScaleX, kLogScaleY}) {
      const double u = std::sqrt(fit.covariance(k, k));
      EXPECT_NEAR(fit.value[k], expected[k], 3 * u + 0.002) << id << " " << k << ", u " << u;
      // The width of a bare stem cannot be told from its gain.
      const bool stem = k == kLogScaleX && reference.elements[i].character == "I";
      EXPECT_LT(u, stem ? 0.15 : 0.02) << id << " " << k;
    }
    EXPECT_GT(fit.edges_found, 0.9) << id;
    EXPECT_LT(fit.missing, 0.05) << id;
  }
}

TEST(FitStages, AMovedElementIsSearched) {
  const auto reference = Reference();
  const Placement truth = Tilted(reference);
  auto drawn = reference;
  outline::Element& last = Find(drawn, "wordmark.7");
  const Point shift(0.4, 0.12);  // far beyond the window of a fit
  last.outline = outline::Transformed(last.outline, {Eigen::Matrix2d::Identity(), shift});
  const cv::Mat alpha = Coverage(drawn, truth);
  const EdgeReader reader(alpha, truth);
  auto copy = reference;
  const outline::Outline& own = Find(copy, "wordmark.7").outline;
  const FoundElement found = FindElement(reader, own);
  EXPECT_GT(found.score, 0.8);
  EXPECT_NEAR(found.start[kShiftX], shift.x(), FindOptions().step);
  EXPECT_NEAR(found.start[kShiftY], shift.y(), FindOptions().step);
  const ElementFit fit = FitElement(reader, SampledOutline(own, 0.02), found.start);
  ASSERT_TRUE(fit.found);
  EXPECT_NEAR(fit.value[kShiftX], shift.x(), 0.004);
  EXPECT_NEAR(fit.value[kShiftY], shift.y(), 0.004);
}

TEST(FitStages, TheCorrectionFollowsTheMany) {
  const auto reference = Reference();
  const Placement truth = Tilted(reference);
  auto drawn = reference;
  outline::Element& moved = Find(drawn, "wordmark.2");
  moved.outline =
      outline::Transformed(moved.outline, {Eigen::Matrix2d::Identity(), Point(0.06, 0)});
  Placement start = truth;
  WarpIncrement off = WarpIncrement::Zero();
  off << 0.02, 0.003, 0, -0.015, 0, 0.004, 0, 0;
  ApplyIncrement(off, outline::Bounds(reference).centre(), start);
  const double before = CornersApart(reference, start, truth);
  const cv::Mat alpha = Coverage(drawn, truth);
  Placement corrected = start;
  for (int round = 0; round < 3; ++round) {
    CorrectFromElements(FitAll(alpha, reference, corrected), reference, {}, corrected);
  }
  const double after = CornersApart(reference, corrected, truth);
  EXPECT_GT(before, 0.02);
  EXPECT_LT(after, 0.004) << "one letter that moved by 6 % must not take the others along";
}

TEST(FitStages, TheBlurIsWhatItWasDrawnWith) {
  const auto reference = Reference();
  const Placement truth = Tilted(reference);
  for (const double blur : {1.0, 2.0, 3.0}) {
    const cv::Mat alpha = Coverage(reference, truth, blur);
    const EdgeReader reader(alpha, truth);
    const double px = EdgeBlurPx(reader, FitAll(alpha, reference, truth));
    // A pixel's mean over its square adds 1/12.
    EXPECT_NEAR(px, std::sqrt(blur * blur + 1 / 12.0), 0.15 + 0.05 * blur) << blur;
  }
}

}  // namespace
}  // namespace debossier::fit
