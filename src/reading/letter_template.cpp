#include "reading/letter_template.h"

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "separate/raster.h"

namespace debossier::reading {

namespace {

/// Each pixel is drawn as this many squared.
constexpr int kFine = 4;

LetterTemplate Draw(const typeset::GeneralGlyph& glyph, const Drawn& drawn) {
  LetterTemplate out;
  out.advance = glyph.advance * drawn.px_per_cap * drawn.widen;
  if (glyph.outline.empty()) return out;
  outline::Affine to_px;
  to_px.linear << drawn.px_per_cap * drawn.widen, 0, 0, -drawn.px_per_cap;
  const double gain_px = drawn.gain * drawn.px_per_cap;
  const outline::Box box = outline::Bounds(outline::Transformed(glyph.outline, to_px));
  const double bolder_px = drawn.bolder * drawn.px_per_cap;
  out.left = box.min.x() - gain_px - bolder_px;
  out.right = box.max.x() + gain_px + bolder_px;
  const int margin = cvCeil(2 + 3 * drawn.blur_px + std::max(0., gain_px + bolder_px));
  const int x0 = cvFloor(box.min.x()) - margin;
  const int y0 = cvFloor(box.min.y()) - margin;
  const cv::Size size(cvCeil(box.max.x()) + margin - x0, cvCeil(box.max.y()) + margin - y0);
  auto polygons = outline::Flatten(glyph.outline, 0.05 / drawn.px_per_cap);
  for (auto& polygon : polygons) {
    for (auto& p : polygon) {
      p = kFine * (to_px * p - outline::Point(x0, y0)) +
          outline::Point(0.5 * kFine - 0.5, 0.5 * kFine - 0.5);
    }
  }
  cv::Mat fine = cv::Mat::zeros(kFine * size.height, kFine * size.width, CV_8U);
  separate::FillPolygons(polygons, fine);
  if (gain_px != 0) {
    cv::Mat distance;
    cv::distanceTransform(gain_px > 0 ? fine == 0 : fine, distance, cv::DIST_L2, 5);
    fine =
        gain_px > 0 ? cv::Mat(distance <= gain_px * kFine) : cv::Mat(distance > -gain_px * kFine);
  }
  const int stems = cvRound(bolder_px * kFine);
  if (stems > 0) cv::dilate(fine, fine, cv::Mat::ones(1, 2 * stems + 1, CV_8U));
  cv::Mat coverage;
  cv::resize(fine, coverage, size, 0, 0, cv::INTER_AREA);
  coverage.convertTo(out.coverage, CV_32F, 1 / 255.0);
  if (drawn.blur_px > 0) {
    cv::GaussianBlur(out.coverage, out.coverage, cv::Size(), drawn.blur_px);
  }
  out.origin = cv::Point(-x0, -y0);
  out.sum = cv::sum(out.coverage)[0];
  out.squares = out.coverage.dot(out.coverage);
  return out;
}

}  // namespace

const LetterTemplate* LetterTemplates::Get(const std::string& character, const Drawn& drawn) {
  const typeset::GeneralGlyph* glyph = face_.Find(character);
  if (glyph == nullptr) return nullptr;
  const Key key{character, drawn.px_per_cap, drawn.widen, drawn.gain, drawn.bolder, drawn.blur_px};
  auto [at, is_new] = made_.try_emplace(key);
  if (is_new) at->second = Draw(*glyph, drawn);
  return &at->second;
}

}  // namespace debossier::reading
