#include "separate/plain_coverage.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "separate/tone.h"

namespace debossier::separate {

cv::Mat PlainCoverage(const cv::Mat& cut, const Coverage& learned, double cap_height_px) {
  constexpr double kGroundWindow = 1.0;  // cap heights, standard deviation
  constexpr double kFoilReach = 0.16;    // cap heights
  constexpr double kFoilWindow = 0.25;
  constexpr float kSurelyGround = 0.35F;
  constexpr double kLeastFoil = 0.5;
  std::array<float, 256> decode;
  for (int code = 0; code < 256; ++code)
    decode[static_cast<std::size_t>(code)] = static_cast<float>(LightOfCode(code));
  float foil = 0;
  float ground = 0;
  for (int c = 0; c < 3; ++c) {
    const auto light = [](float code) { return static_cast<float>(LightOfCode(code)); };
    foil += learned.direction[c] * light(std::clamp(learned.foil_colour[c], 0.F, 255.F));
    ground += learned.direction[c] * light(std::clamp(learned.ground_colour[c], 0.F, 255.F));
  }
  const float span = foil - ground;
  cv::Mat raw(cut.size(), CV_32F);
  if (std::abs(span) < 1e-9F) return cv::Mat::zeros(cut.size(), CV_32F);
  for (int y = 0; y < cut.rows; ++y) {
    const auto* from = cut.ptr<cv::Vec3b>(y);
    auto* to = raw.ptr<float>(y);
    for (int x = 0; x < cut.cols; ++x) {
      float p = 0;
      for (int c = 0; c < 3; ++c) p += learned.direction[c] * decode[from[x][c]];
      to[x] = (p - ground) / span;
    }
  }
  // The ground's level near by, from what is surely ground.
  cv::Mat sure;
  cv::Mat(cv::abs(raw) < kSurelyGround).convertTo(sure, CV_32F, 1 / 255.0);
  const double sigma = kGroundWindow * cap_height_px;
  cv::Mat level = raw.mul(sure);
  cv::GaussianBlur(level, level, cv::Size(), sigma, 0, cv::BORDER_REPLICATE);
  cv::GaussianBlur(sure, sure, cv::Size(), sigma, 0, cv::BORDER_REPLICATE);
  cv::divide(level, sure + 0.05, level);
  raw -= level;
  // And the foil's, from the brightest near by.
  const int reach = std::max(1, cvRound(kFoilReach * cap_height_px));
  cv::Mat brightest;
  cv::dilate(raw, brightest,
             cv::getStructuringElement(cv::MORPH_RECT, {2 * reach + 1, 2 * reach + 1}));
  cv::GaussianBlur(brightest, brightest, cv::Size(), kFoilWindow * cap_height_px, 0,
                   cv::BORDER_REPLICATE);
  cv::divide(raw, cv::max(brightest, kLeastFoil), raw);
  cv::min(raw, 1.0, raw);
  cv::max(raw, 0.0, raw);
  return raw;
}

}  // namespace debossier::separate
