#include "reading/skew.h"

#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace debossier::reading {

namespace {

std::vector<cv::Point2f> InkSample(const cv::Mat& mask, std::size_t most) {
  std::vector<cv::Point> ink;
  cv::findNonZero(mask, ink);
  const std::size_t step = std::max<std::size_t>(1, ink.size() / most);
  std::vector<cv::Point2f> sample;
  for (std::size_t i = 0; i < ink.size(); i += step) sample.emplace_back(ink[i]);
  return sample;
}

/// Sum of squared differences of neighbouring bins of the projection along `axis`.
double Sharpness(const std::vector<cv::Point2f>& ink, cv::Point2f axis, double bin_px) {
  float low = 1e9f;
  float high = -1e9f;
  for (const auto& p : ink) {
    const float v = p.dot(axis);
    low = std::min(low, v);
    high = std::max(high, v);
  }
  std::vector<double> bins(static_cast<std::size_t>((high - low) / bin_px) + 2, 0.0);
  for (const auto& p : ink) {
    bins[static_cast<std::size_t>((p.dot(axis) - low) / bin_px)] += 1;
  }
  double sum = 0;
  for (std::size_t i = 1; i < bins.size(); ++i) {
    sum += (bins[i] - bins[i - 1]) * (bins[i] - bins[i - 1]);
  }
  return sum;
}

template <class Axis>
double BestParameter(const std::vector<cv::Point2f>& ink, double limit, double coarse, double fine,
                     double bin_px, Axis axis) {
  double best = 0;
  double best_value = -1;
  const auto scan = [&](double from, double to, double step) {
    for (double a = from; a <= to + 1e-9; a += step) {
      const double value = Sharpness(ink, axis(a), bin_px);
      if (value > best_value) {
        best_value = value;
        best = a;
      }
    }
  };
  scan(-limit, limit, coarse);
  const double centre = best;
  best_value = -1;
  scan(centre - coarse, centre + coarse, fine);
  return best;
}

}  // namespace

double EstimateSkew(const cv::Mat& mask, double limit_rad) {
  const auto ink = InkSample(mask, 6000);
  if (ink.size() < 50) return 0;
  const double bin = std::max(1.0, mask.rows / 80.0);
  return BestParameter(ink, limit_rad, 1.0 * CV_PI / 180, 0.2 * CV_PI / 180, bin, [](double a) {
    return cv::Point2f(static_cast<float>(std::sin(a)), static_cast<float>(std::cos(a)));
  });
}

double EstimateSlant(const cv::Mat& row, double limit) {
  const auto ink = InkSample(row, 6000);
  if (ink.size() < 50) return 0;
  const double bin = std::max(1.0, row.rows / 30.0);
  return BestParameter(ink, limit, 0.04, 0.01, bin,
                       [](double s) { return cv::Point2f(1.f, static_cast<float>(s)); });
}

}  // namespace debossier::reading
