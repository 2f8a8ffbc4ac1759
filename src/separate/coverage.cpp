#include "separate/coverage.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace debossier::separate {

Eigen::Matrix3d PixelGrid::PhotoFromMap() const {
  Eigen::Matrix3d m = Eigen::Matrix3d::Identity();
  m(0, 0) = scale_x;
  m(1, 1) = scale_y;
  m(0, 2) = 0.5 * scale_x - 0.5 + origin.x;
  m(1, 2) = 0.5 * scale_y - 0.5 + origin.y;
  return m;
}

cv::Mat CutOut(const cv::Mat& bgr, const cv::Rect& wanted, double reduction, PixelGrid* grid) {
  const cv::Rect clipped = wanted & cv::Rect(0, 0, bgr.cols, bgr.rows);
  grid->origin = clipped;
  cv::Mat cut = bgr(clipped);
  if (reduction > 1.05) {
    const cv::Size size(std::max(1, cvRound(clipped.width / reduction)),
                        std::max(1, cvRound(clipped.height / reduction)));
    cv::Mat reduced;
    cv::resize(cut, reduced, size, 0, 0, cv::INTER_AREA);
    cut = reduced;
  }
  grid->scale_x = static_cast<double>(clipped.width) / cut.cols;
  grid->scale_y = static_cast<double>(clipped.height) / cut.rows;
  return cut;
}

namespace {

/// Sums of colour and weight over a mask, reduced and blurred: the parts of a local mean.
struct LocalSums {
  cv::Mat colour;  ///< CV_32FC3, sum of colour times weight.
  cv::Mat weight;  ///< CV_32F.
};

LocalSums SumOver(const cv::Mat& colour, const cv::Mat& mask, int reduce, double sigma) {
  LocalSums sums;
  cv::Mat masked = cv::Mat::zeros(colour.size(), colour.type());
  colour.copyTo(masked, mask);
  const cv::Size small(std::max(1, colour.cols / reduce), std::max(1, colour.rows / reduce));
  cv::Mat reduced;
  cv::resize(masked, reduced, small, 0, 0, cv::INTER_AREA);
  reduced.convertTo(sums.colour, CV_32FC3);
  cv::resize(mask, reduced, small, 0, 0, cv::INTER_AREA);
  reduced.convertTo(sums.weight, CV_32F, 1.0 / 255);
  cv::GaussianBlur(sums.colour, sums.colour, cv::Size(), sigma, sigma, cv::BORDER_CONSTANT);
  cv::GaussianBlur(sums.weight, sums.weight, cv::Size(), sigma, sigma, cv::BORDER_CONSTANT);
  return sums;
}

cv::Vec3f GlobalMean(const LocalSums& sums) {
  const cv::Scalar colour = cv::sum(sums.colour);
  const double weight = std::max(1e-6, cv::sum(sums.weight)[0]);
  return {static_cast<float>(colour[0] / weight), static_cast<float>(colour[1] / weight),
          static_cast<float>(colour[2] / weight)};
}

/// Local means, pulled towards `prior` with the weight of `share` of a full window.
cv::Mat LocalMean(const LocalSums& sums, const cv::Vec3f& prior, float share,
                  const cv::Size& size) {
  cv::Mat mean(sums.weight.size(), CV_32FC3);
  for (int y = 0; y < mean.rows; ++y) {
    const auto* colour = sums.colour.ptr<cv::Vec3f>(y);
    const auto* weight = sums.weight.ptr<float>(y);
    auto* out = mean.ptr<cv::Vec3f>(y);
    for (int x = 0; x < mean.cols; ++x) {
      out[x] = (colour[x] + prior * share) * (1.f / (weight[x] + share));
    }
  }
  cv::Mat full;
  cv::resize(mean, full, size, 0, 0, cv::INTER_LINEAR);
  return full;
}

/// Inverse covariance of the ground's colour about its local mean.
cv::Matx33f GroundMetric(const cv::Mat& bgr, const cv::Mat& ground_mean, const cv::Mat& ground) {
  cv::Matx33d sum = cv::Matx33d::zeros();
  double count = 0;
  const int step =
      std::max(1, static_cast<int>(std::sqrt(static_cast<double>(bgr.total()) / 60000)));
  for (int y = 0; y < bgr.rows; y += step) {
    const auto* colour = bgr.ptr<cv::Vec3b>(y);
    const auto* mean = ground_mean.ptr<cv::Vec3f>(y);
    const auto* label = ground.ptr<unsigned char>(y);
    for (int x = 0; x < bgr.cols; x += step) {
      if (label[x] == 0) continue;
      const cv::Vec3d d = cv::Vec3d(colour[x]) - cv::Vec3d(mean[x]);
      sum += d * d.t();
      count += 1;
    }
  }
  // The floor keeps a flat or clipped channel from taking all the weight.
  const cv::Matx33d covariance = sum * (1.0 / std::max(1.0, count)) + cv::Matx33d::eye() * 4.0;
  return cv::Matx33f(covariance.inv());
}

}  // namespace

Coverage GuidedCoverage(const cv::Mat& bgr, const PixelGrid& grid, const cv::Mat& foil,
                        const cv::Mat& ground, double cap_height_px,
                        const CoverageOptions& options) {
  Coverage out;
  out.grid = grid;
  const int reduce = std::max(1, static_cast<int>(cap_height_px / 16));
  const auto sigma = [&](double window) { return std::max(0.8, window * cap_height_px / reduce); };
  const LocalSums foil_sums = SumOver(bgr, foil, reduce, sigma(options.foil_window));
  const LocalSums ground_sums = SumOver(bgr, ground, reduce, sigma(options.ground_window));
  const cv::Vec3f foil_prior = GlobalMean(foil_sums);
  const cv::Vec3f ground_prior = GlobalMean(ground_sums);
  const float share = static_cast<float>(options.prior_weight) * 0.3f;
  const cv::Mat foil_mean = LocalMean(foil_sums, foil_prior, share, bgr.size());
  const cv::Mat ground_mean = LocalMean(ground_sums, ground_prior, 0.02f, bgr.size());
  const cv::Matx33f metric = GroundMetric(bgr, ground_mean, ground);

  const cv::Vec3f typical = foil_prior - ground_prior;
  const float typical_norm = std::max(1e-3f, typical.dot(metric * typical));
  out.contrast = std::sqrt(typical_norm);
  out.alpha.create(bgr.size(), CV_32F);
  for (int y = 0; y < bgr.rows; ++y) {
    const auto* colour = bgr.ptr<cv::Vec3b>(y);
    const auto* f_mean = foil_mean.ptr<cv::Vec3f>(y);
    const auto* g_mean = ground_mean.ptr<cv::Vec3f>(y);
    auto* alpha = out.alpha.ptr<float>(y);
    for (int x = 0; x < bgr.cols; ++x) {
      const cv::Vec3f step = f_mean[x] - g_mean[x];
      const cv::Vec3f weighted = metric * step;
      const float norm = step.dot(weighted);
      // Where the local foil cannot be told from the ground, alpha fades instead of exploding.
      const float denominator = std::max(norm, 0.15f * typical_norm);
      const cv::Vec3f d(colour[x][0] - g_mean[x][0], colour[x][1] - g_mean[x][1],
                        colour[x][2] - g_mean[x][2]);
      alpha[x] = std::clamp(weighted.dot(d) / denominator, -0.5f, 1.5f);
    }
  }
  if (options.smoothing_px > 0) {
    cv::GaussianBlur(out.alpha, out.alpha, cv::Size(), options.smoothing_px, 0,
                     cv::BORDER_REPLICATE);
  }
  cv::Scalar mean;
  cv::Scalar deviation;
  cv::meanStdDev(out.alpha, mean, deviation, ground);
  out.noise = deviation[0];
  return out;
}

}  // namespace debossier::separate
