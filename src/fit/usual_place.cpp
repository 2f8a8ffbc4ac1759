#include "fit/usual_place.h"

#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "base/quantile.h"
#include "base/robust.h"
#include "fit/draw_lettering.h"
#include "fit/natural_spread.h"

namespace debossier::fit {

namespace {

/// The foil of a patch is brighter or darker than the photo's mean: the median factor where both
/// have foil, so that what is worn away does not count.
double Amplitude(const cv::Mat& photo, const cv::Mat& drawn) {
  constexpr std::size_t kFewest = 8;
  std::vector<double> factors;
  for (int y = 0; y < photo.rows; ++y) {
    const auto* a = photo.ptr<float>(y);
    const auto* b = drawn.ptr<float>(y);
    for (int x = 0; x < photo.cols; ++x) {
      if (a[x] > 0.5f && b[x] > 0.7f) factors.push_back(a[x] / b[x]);
    }
  }
  return factors.size() < kFewest ? 1.0 : std::clamp(UpperMedian(std::move(factors)), 0.6, 1.3);
}

// Of coverage: grain and sparkle inside strokes.
constexpr double kLeastNoise = 0.12;

/// Of a pixel that is `apart` deviations from what is drawn, as a half square: missing foil costs
/// no more than wear is rare.
double CostOf(double apart) {
  constexpr double kMostMissing = 0.5;
  constexpr double kMostExtra = 8;
  return std::min(0.5 * apart * apart, apart < 0 ? kMostMissing : kMostExtra);
}

}  // namespace

double ExplainedShare(const separate::Coverage& coverage, const RenderedReference& rendered) {
  if (rendered.empty()) return 0;
  const double noise = std::max(kLeastNoise, coverage.noise);
  const double share = std::clamp(rendered.share, 0.0, 1.0);
  double gained = 0;
  double most = 0;
  const cv::Mat seen = coverage.alpha(rendered.part);
  for (int y = 0; y < seen.rows; ++y) {
    const auto* photo = seen.ptr<float>(y);
    const auto* low = rendered.sharper.ptr<float>(y);
    const auto* high = rendered.softer.ptr<float>(y);
    for (int x = 0; x < seen.cols; ++x) {
      const double drawn = low[x] + share * (high[x] - low[x]);
      if (drawn < 0.1) continue;  // elsewhere nothing is claimed
      gained += CostOf(photo[x] / noise) - CostOf((photo[x] - drawn) / noise);
      most += CostOf(drawn / noise);
    }
  }
  return most > 0 ? gained / most : 0;
}

PlaceLikelihood::PlaceLikelihood(const separate::Coverage& coverage,
                                 const RenderedReference& rendered, const Placement& map_from_stamp,
                                 const outline::Lettering& lettering,
                                 const std::vector<ElementFit>& elements, std::size_t idx)
    : coverage_(coverage),
      rendered_(rendered),
      map_from_stamp_(map_from_stamp),
      lettering_(lettering),
      elements_(elements),
      idx_(idx) {}

std::vector<PlaceEvidence> PlaceLikelihood::Of(const std::vector<const ElementFit*>& places) const {
  const outline::Outline& own = lettering_.elements[idx_].outline;
  outline::Box box = PlacedBox(own, {}, map_from_stamp_);
  for (const ElementFit* place : places) {
    if (place != nullptr) box.Add(PlacedBox(own, MoveOf(*place), map_from_stamp_));
  }
  const double margin = 2 * rendered_.blur_px + 1;
  const cv::Rect seen = RectAround(box, margin, coverage_.alpha.size());
  const cv::Rect drawn_on = RectAround(box, 3 * margin, coverage_.alpha.size());
  std::vector<PlaceEvidence> out(places.size());
  if (seen.empty()) return out;
  const Placement shifted = SeenFrom(drawn_on.tl(), map_from_stamp_);
  const cv::Mat others = DrawLettering(lettering_, elements_, shifted, drawn_on.size(), idx_);
  const double noise = std::max(kLeastNoise, coverage_.noise);
  const double independent =
      std::max(1.0, 4 * std::numbers::pi * rendered_.blur_px * rendered_.blur_px);
  const double smoothing =
      std::hypot(coverage_.grid.smoothing_px, separate::CoverageOptions().smoothing_px);
  const cv::Mat photo = coverage_.alpha(seen);
  for (std::size_t k = 0; k < places.size(); ++k) {
    cv::Mat drawn = others.clone();
    if (places[k] != nullptr) {
      DrawOutline(own, MoveOf(*places[k]), shifted.gain + places[k]->value[kOwnGain], shifted,
                  drawn);
    }
    cv::GaussianBlur(drawn, drawn, cv::Size(), rendered_.light_blur_px);
    for (int y = 0; y < drawn.rows; ++y) {
      auto* row = drawn.ptr<float>(y);
      for (int x = 0; x < drawn.cols; ++x) row[x] = rendered_.tone(row[x]);
    }
    cv::GaussianBlur(drawn, drawn, cv::Size(), smoothing);
    const cv::Mat patch = drawn(seen - drawn_on.tl());
    const double amplitude = Amplitude(photo, patch);
    double missing = 0;
    double extra = 0;
    for (int y = 0; y < patch.rows; ++y) {
      const auto* a = photo.ptr<float>(y);
      const auto* b = patch.ptr<float>(y);
      for (int x = 0; x < patch.cols; ++x) {
        const double apart = (a[x] - amplitude * b[x]) / noise;
        (apart < 0 ? missing : extra) += CostOf(apart);
      }
    }
    out[k] = {-(missing + extra) / independent, extra / independent};
  }
  return out;
}

namespace {

/// A straight line through the points of least Student-weighted squares: what single letters that
/// moved say counts little.
struct StraightLine {
  double middle = 0;
  double level = 0;
  double slope = 0;
  double At(double x) const { return level + slope * (x - middle); }
};

StraightLine LineThrough(const std::vector<double>& x, const std::vector<double>& y) {
  StraightLine line;
  line.middle = UpperMedian(x);
  line.level = UpperMedian(y);
  for (int round = 0; round < 10; ++round) {
    Eigen::Matrix2d normal = 1e-9 * Eigen::Matrix2d::Identity();
    Eigen::Vector2d right = Eigen::Vector2d::Zero();
    for (std::size_t i = 0; i < x.size(); ++i) {
      const Eigen::Vector2d row(1, x[i] - line.middle);
      const double apart = (y[i] - line.At(x[i])) / kNaturalShift;
      const double weight = StudentWeightOf(apart * apart, 1, kStudentDegrees);
      normal += weight * row * row.transpose();
      right += weight * y[i] * row;
    }
    const Eigen::Vector2d at = normal.inverse() * right;
    line.level = at[0];
    line.slope = at[1];
  }
  return line;
}

}  // namespace

std::vector<ElementVector> UsualPlaces(const outline::Lettering& lettering,
                                       const std::vector<ElementFit>& elements) {
  constexpr std::size_t kFewest = 4;
  std::vector<ElementVector> usual(elements.size(), ElementVector(ElementVector::Zero()));
  for (std::size_t line = 1; line < lettering.lines.size(); ++line) {
    const auto of_line = [&](std::size_t i) {
      const auto& e = lettering.elements[i];
      return e.line_idx == static_cast<int>(line) && e.kind == outline::ElementKind::kLetter;
    };
    std::vector<double> x;
    std::array<std::vector<double>, 3> seen;  // shift x and y, log size
    for (std::size_t i = 0; i < elements.size(); ++i) {
      if (!of_line(i) || !elements[i].found) continue;
      const ElementVector& v = elements[i].value;
      x.push_back(elements[i].centre.x());
      seen[0].push_back(v[kShiftX]);
      seen[1].push_back(v[kShiftY]);
      seen[2].push_back(0.5 * (v[kLogScaleX] + v[kLogScaleY]));
    }
    if (x.size() < kFewest) continue;
    const StraightLine along = LineThrough(x, seen[0]);
    const StraightLine across = LineThrough(x, seen[1]);
    const double size = UpperMedian(seen[2]);
    for (std::size_t i = 0; i < elements.size(); ++i) {
      if (!of_line(i)) continue;
      const double at = outline::Bounds(lettering.elements[i].outline).centre().x();
      usual[i] << along.At(at), across.At(at), size, size, 0, 0;
    }
  }
  return usual;
}

}  // namespace debossier::fit
