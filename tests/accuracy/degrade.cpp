#include "accuracy/degrade.h"

#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "image/encode_jpeg.h"

namespace debossier::accuracy {

namespace {

constexpr std::array<Degradation, 9> kDegradations = {{
    {.name = "cap height 80 px", .cap_height_px = 80},
    {.name = "cap height 55 px", .cap_height_px = 55},
    {.name = "cap height 40 px", .cap_height_px = 40},
    {.name = "blur 1.5 px", .blur_px = 1.5},
    {.name = "blur 2.5 px", .blur_px = 2.5},
    {.name = "motion 5 px", .motion_px = 5},
    {.name = "JPEG 40", .jpeg_quality = 40},
    {.name = "JPEG 20", .jpeg_quality = 20},
    {.name = "dark and noisy", .exposure = 0.35, .noise = 5},
}};

/// A line of the given length through the middle, of sum 1.
cv::Mat MotionKernel(double length) {
  constexpr double kTurn = 3.14159265358979 / 6;
  const int half = static_cast<int>(std::ceil(length / 2)) + 1;
  cv::Mat kernel = cv::Mat::zeros(2 * half + 1, 2 * half + 1, CV_32F);
  constexpr int kSteps = 200;
  for (int i = 0; i <= kSteps; ++i) {
    const double at = length * (static_cast<double>(i) / kSteps - 0.5);
    const double x = half + at * std::cos(kTurn);
    const double y = half + at * std::sin(kTurn);
    const int column = static_cast<int>(std::floor(x));
    const int row = static_cast<int>(std::floor(y));
    const auto fx = static_cast<float>(x - column);
    const auto fy = static_cast<float>(y - row);
    kernel.at<float>(row, column) += (1 - fx) * (1 - fy);
    kernel.at<float>(row, column + 1) += fx * (1 - fy);
    kernel.at<float>(row + 1, column) += (1 - fx) * fy;
    kernel.at<float>(row + 1, column + 1) += fx * fy;
  }
  return kernel / cv::sum(kernel)[0];
}

}  // namespace

std::span<const Degradation> Degradations() { return kDegradations; }

Result<image::Photo> Degrade(const image::Photo& photo, double cap_height_px, const Degradation& d,
                             std::uint64_t seed) {
  cv::Mat picture = photo.bgr;
  const double factor = d.cap_height_px > 0 ? d.cap_height_px / cap_height_px : 1;
  if (factor < 1) cv::resize(picture, picture, cv::Size(), factor, factor, cv::INTER_AREA);
  if (d.blur_px > 0) cv::GaussianBlur(picture, picture, cv::Size(), d.blur_px);
  if (d.motion_px > 0) cv::filter2D(picture, picture, -1, MotionKernel(d.motion_px));
  if (d.noise > 0 || d.exposure != 1) {
    cv::Mat noise(picture.size(), CV_32FC3);
    cv::RNG random(seed);
    random.fill(noise, cv::RNG::NORMAL, 0, d.noise);
    cv::Mat exposed;
    picture.convertTo(exposed, CV_32FC3, d.exposure);
    exposed += noise;
    exposed.convertTo(picture, CV_8UC3);
  }
  return image::PhotoFromBytes(image::EncodeJpeg(picture, d.jpeg_quality),
                               photo.file + " (" + d.name + ")");
}

}  // namespace debossier::accuracy
