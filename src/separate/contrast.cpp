#include "separate/contrast.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace debossier::separate {

namespace {

/// The local ground colour: a median over a wide window, taken on a small copy.
cv::Mat Ground(const cv::Mat& bgr, double window_share) {
  constexpr int kSmallSide = 144;
  const int longer = std::max(bgr.cols, bgr.rows);
  const double reduce = std::max(1.0, static_cast<double>(longer) / kSmallSide);
  cv::Mat small;
  cv::resize(
      bgr, small,
      cv::Size(std::max(1, cvRound(bgr.cols / reduce)), std::max(1, cvRound(bgr.rows / reduce))), 0,
      0, cv::INTER_AREA);
  int window = static_cast<int>(window_share * std::max(small.cols, small.rows)) | 1;
  window = std::clamp(window, 5, 99);
  cv::medianBlur(small, small, window);
  cv::Mat smooth;
  cv::blur(small, smooth, cv::Size(window / 4 * 2 + 1, window / 4 * 2 + 1), cv::Point(-1, -1),
           cv::BORDER_REPLICATE);
  cv::Mat ground;
  cv::resize(smooth, ground, bgr.size(), 0, 0, cv::INTER_LINEAR);
  return ground;
}

/// Covariance of the ground's noise from the pixels nearest to the ground (trimmed half).
cv::Matx33d TrimmedCovariance(const cv::Mat& difference) {
  std::vector<cv::Vec3f> sample;
  const int step = std::max(1, static_cast<int>(std::ceil(std::sqrt(difference.total() / 8000.0))));
  for (int y = 0; y < difference.rows; y += step) {
    const auto* row = difference.ptr<cv::Vec3f>(y);
    for (int x = 0; x < difference.cols; x += step) sample.push_back(row[x]);
  }
  cv::Matx33d covariance = cv::Matx33d::eye() * 25.0;
  for (int round = 0; round < 3; ++round) {
    const cv::Matx33d inverse = covariance.inv();
    std::vector<std::pair<double, std::size_t>> order(sample.size());
    for (std::size_t i = 0; i < sample.size(); ++i) {
      const cv::Vec3d v(sample[i]);
      order[i] = {v.dot(inverse * v), i};
    }
    const auto keep = order.begin() + static_cast<std::ptrdiff_t>(order.size() / 2);
    std::nth_element(order.begin(), keep, order.end());
    cv::Matx33d sum = cv::Matx33d::zeros();
    for (auto it = order.begin(); it != keep; ++it) {
      const cv::Vec3d v(sample[it->second]);
      sum += v * v.t();
    }
    // The inner half of a three-dimensional normal has 0.3495 of its variance per axis.
    covariance = sum * (1.0 / (0.3495 * std::max<double>(1.0, keep - order.begin()))) +
                 cv::Matx33d::eye() * 1.0;
  }
  return covariance;
}

}  // namespace

GroundRelative SubtractGround(const cv::Mat& bgr, const ContrastOptions& options) {
  GroundRelative out;
  cv::Mat work = bgr;
  const int longer = std::max(bgr.cols, bgr.rows);
  if (longer > options.max_side_px) {
    out.scale = static_cast<double>(longer) / options.max_side_px;
    cv::resize(bgr, work, cv::Size(cvRound(bgr.cols / out.scale), cvRound(bgr.rows / out.scale)), 0,
               0, cv::INTER_AREA);
    out.scale = static_cast<double>(bgr.cols) / work.cols;
  }
  const cv::Mat ground = Ground(work, options.ground_window);
  // Small pictures hold small lettering, which the usual smoothing would run together.
  const double sigma = longer < 300 ? 0.5 * options.smoothing_px : options.smoothing_px;
  // Into a picture of its own: `work` may be a view of the caller's photo.
  cv::Mat smooth;
  if (sigma > 0) {
    cv::GaussianBlur(work, smooth, cv::Size(), sigma);
  } else {
    smooth = work;
  }
  cv::Mat difference;
  cv::subtract(smooth, ground, difference, cv::noArray(), CV_32FC3);
  const cv::Matx33d covariance = TrimmedCovariance(difference);
  cv::Vec3d values;
  cv::Matx33d vectors;
  cv::eigen(covariance, values, vectors);
  cv::Matx33f whiten;
  for (int i = 0; i < 3; ++i) {
    for (int j = 0; j < 3; ++j) whiten(i, j) = vectors(i, j) / std::sqrt(values[i]);
  }
  cv::transform(difference, out.whitened, whiten);
  return out;
}

namespace {

/// Principal direction of the strongest tenth of the pixels, signed so that they lie on its side.
cv::Vec3f FoilDirection(const cv::Mat& whitened) {
  std::vector<std::pair<float, cv::Vec3f>> sample;
  const int step = std::max(1, static_cast<int>(std::ceil(std::sqrt(whitened.total() / 8000.0))));
  for (int y = 0; y < whitened.rows; y += step) {
    const auto* row = whitened.ptr<cv::Vec3f>(y);
    for (int x = 0; x < whitened.cols; x += step) sample.emplace_back(row[x].dot(row[x]), row[x]);
  }
  const auto cut = sample.begin() + static_cast<std::ptrdiff_t>(sample.size() * 9 / 10);
  std::nth_element(sample.begin(), cut, sample.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  cv::Matx33d second = cv::Matx33d::zeros();
  cv::Vec3d mean(0, 0, 0);
  for (auto it = cut; it != sample.end(); ++it) {
    // Unit vectors, so that a few extreme pixels (glare) do not decide.
    const cv::Vec3d unit = cv::Vec3d(it->second) * (1.0 / std::sqrt(it->first + 1e-9));
    second += unit * unit.t();
    mean += unit;
  }
  cv::Vec3d values;
  cv::Matx33d vectors;
  cv::eigen(second, values, vectors);
  cv::Vec3f direction(vectors(0, 0), vectors(0, 1), vectors(0, 2));
  if (cv::Vec3d(direction).dot(mean) < 0) direction = -direction;
  return direction;
}

}  // namespace

ContrastMap Contrast(const GroundRelative& relative, Polarity polarity) {
  ContrastMap out;
  out.scale = relative.scale;
  if (polarity == Polarity::kUnsigned) {
    std::vector<cv::Mat> channel;
    cv::split(relative.whitened, channel);
    cv::Mat sum =
        channel[0].mul(channel[0]) + channel[1].mul(channel[1]) + channel[2].mul(channel[2]);
    cv::sqrt(sum, out.contrast);
  } else {
    const cv::Vec3f d = FoilDirection(relative.whitened);
    const float sign = polarity == Polarity::kReversed ? -1.f : 1.f;
    cv::transform(relative.whitened, out.contrast,
                  cv::Matx13f(sign * d[0], sign * d[1], sign * d[2]));
  }
  out.threshold = OtsuThreshold(out.contrast, &out.separability);
  return out;
}

int OtsuSplit(const std::vector<double>& histogram, double* between_class_variance) {
  double total = 0;
  double moment = 0;
  for (std::size_t i = 0; i < histogram.size(); ++i) {
    total += histogram[i];
    moment += histogram[i] * static_cast<double>(i);
  }
  double below = 0;
  double below_moment = 0;
  double best = -1;
  int split = 0;
  for (std::size_t i = 0; i + 1 < histogram.size(); ++i) {
    below += histogram[i];
    below_moment += histogram[i] * static_cast<double>(i);
    const double above = total - below;
    if (below <= 0 || above <= 0) continue;
    const double gap = below_moment / below - (moment - below_moment) / above;
    const double variance = below / total * above / total * gap * gap;
    if (variance > best) {
      best = variance;
      split = static_cast<int>(i);
    }
  }
  if (between_class_variance != nullptr) *between_class_variance = std::max(0.0, best);
  return split;
}

double OtsuThreshold(const cv::Mat& map, double* separability) {
  constexpr int kBins = 256;
  // A robust top: glare must not stretch the histogram.
  std::vector<float> sample;
  const int step = std::max(1, static_cast<int>(std::ceil(std::sqrt(map.total() / 40000.0))));
  for (int y = 0; y < map.rows; y += step) {
    const float* row = map.ptr<float>(y);
    for (int x = 0; x < map.cols; x += step) sample.push_back(std::max(0.f, row[x]));
  }
  auto top = sample.begin() + static_cast<std::ptrdiff_t>(sample.size() * 99 / 100);
  std::nth_element(sample.begin(), top, sample.end());
  const double maximum = std::max(1e-6, static_cast<double>(*top));
  std::vector<double> histogram(kBins, 0.0);
  double sum = 0;
  double squares = 0;
  for (const float v : sample) {
    const double position = std::min(kBins - 1.0, v / maximum * (kBins - 1));
    histogram[static_cast<std::size_t>(position)] += 1;
    sum += std::floor(position);
    squares += std::floor(position) * std::floor(position);
  }
  double between = 0;
  const int split = OtsuSplit(histogram, &between);
  const double count = static_cast<double>(sample.size());
  const double variance = squares / count - sum / count * (sum / count);
  if (separability != nullptr) *separability = variance > 0 ? between / variance : 0;
  return (split + 1.0) / (kBins - 1) * maximum;
}

}  // namespace debossier::separate
