#include "support/sample_picture.h"

#include <algorithm>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "base/files.h"

namespace debossier::test_support {
namespace {

using outline::Outline;
using outline::Polyline;

constexpr int kFiner = 4;  // sub-pixels a side

// Smooth noise in 0..1 with a feature size of about `cell` pixels.
cv::Mat SmoothNoise(const cv::Size& size, int cell, cv::RNG& rng) {
  cv::Mat coarse(size.height / cell + 3, size.width / cell + 3, CV_32F), fine;
  rng.fill(coarse, cv::RNG::UNIFORM, 0, 1);
  cv::resize(coarse, fine, size, 0, 0, cv::INTER_CUBIC);
  return fine;
}

std::vector<Polyline> InPhoto(const Outline& outline, const fit::Placement& placement) {
  std::vector<Polyline> polygons = outline::Flatten(outline, 0.002);
  for (Polyline& polygon : polygons) {
    for (outline::Point& p : polygon) p = placement.ToPhoto(p);
  }
  return polygons;
}

// The part of the picture that holds the polygons and some pixels around them.
cv::Rect Around(const std::vector<Polyline>& polygons, const cv::Size& size) {
  outline::Box box;
  for (const Polyline& polygon : polygons) {
    for (const outline::Point& p : polygon) box.Add(p);
  }
  constexpr int kPad = 10;
  const cv::Rect wanted(cvFloor(box.min.x()) - kPad, cvFloor(box.min.y()) - kPad,
                        cvCeil(box.width()) + 2 * kPad, cvCeil(box.height()) + 2 * kPad);
  return wanted & cv::Rect({}, size);
}

// Share of each pixel of `part` that lies inside the polygons.
cv::Mat Coverage(const std::vector<Polyline>& polygons, const cv::Rect& part) {
  std::vector<std::vector<cv::Point>> fine_polygons;
  for (const Polyline& polygon : polygons) {
    auto& fine_polygon = fine_polygons.emplace_back();
    for (const outline::Point& p : polygon) {
      fine_polygon.emplace_back(cvRound((p.x() - part.x + 0.5) * kFiner),
                                cvRound((p.y() - part.y + 0.5) * kFiner));
    }
  }
  cv::Mat fine = cv::Mat::zeros(part.size() * kFiner, CV_8U), coverage;
  cv::fillPoly(fine, fine_polygons, cv::Scalar(255));
  cv::resize(fine, coverage, part.size(), 0, 0, cv::INTER_AREA);
  coverage.convertTo(coverage, CV_32F, 1 / 255.0);
  return coverage;
}

// Contours of the foil at half height, found on a finer grid.
std::vector<Polyline> HalfHeight(const cv::Mat& coverage, const cv::Mat& reach,
                                 const cv::Point& origin) {
  cv::Mat mask = coverage.mul(reach), fine;
  cv::resize(mask, fine, cv::Size(), kFiner, kFiner, cv::INTER_CUBIC);
  cv::Mat binary = fine > 0.5;
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(binary, contours, cv::RETR_CCOMP, cv::CHAIN_APPROX_NONE);
  std::vector<Polyline> edges;
  for (const auto& contour : contours) {
    if (contour.size() < 24) continue;
    Polyline& edge = edges.emplace_back();
    // The fine grid's stairs are averaged out; about two points a pixel remain.
    const auto count = static_cast<int>(contour.size());
    for (int i = 0; i < count; i += 2) {
      outline::Point sum = outline::Point::Zero();
      for (int k = i - 3; k <= i + 3; ++k) {
        const cv::Point& p = contour[static_cast<std::size_t>((k + count) % count)];
        sum += outline::Point(p.x, p.y);
      }
      edge.push_back((sum / 7).array() / kFiner + (0.5 / kFiner - 0.5) +
                     outline::Point(origin.x, origin.y).array());
    }
  }
  return edges;
}

// The stored picture that the EXIF orientation turns back into `upright`.
cv::Mat Stored(const cv::Mat& upright, int orientation) {
  cv::Mat stored = upright.clone();
  if (orientation >= 5) cv::transpose(upright, stored);
  constexpr int kNoFlip = 99;
  // Undoes the turns of TIFF 6.0 tag 274 and EXIF 2.3 section 4.6.4.
  constexpr int kFlips[9] = {kNoFlip, kNoFlip, 1, -1, 0, kNoFlip, 0, -1, 1};
  if (kFlips[orientation] != kNoFlip) cv::flip(stored, stored, kFlips[orientation]);
  return stored;
}

cv::Mat Compose(const cv::Mat& foil, cv::RNG& rng) {
  const cv::Size size = foil.size();
  const cv::Mat grain = SmoothNoise(size, 5, rng);
  const cv::Mat blotch = SmoothNoise(size, 90, rng);
  const cv::Mat mirror = SmoothNoise(size, 40, rng);
  cv::Mat bgr(size, CV_8UC3);
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      const float shade = 0.72f + 0.28f * grain.at<float>(y, x) + 0.25f * blotch.at<float>(y, x);
      const float shine = 0.75f + 0.5f * mirror.at<float>(y, x);
      const float a = foil.at<float>(y, x);
      const cv::Vec3f leather(38, 52, 92), gold(92, 172, 214);
      const cv::Vec3f mixed = leather * (shade * (1 - a)) + gold * (shine * a);
      for (int k = 0; k < 3; ++k) {
        bgr.at<cv::Vec3b>(y, x)[k] =
            cv::saturate_cast<uchar>(mixed[k] + 3.0f * static_cast<float>(rng.gaussian(1)));
      }
    }
  }
  return bgr;
}

}  // namespace

SamplePicture DrawSamplePicture(const std::vector<Outline>& stamped,
                                const fit::Placement& placement, const PictureOptions& options) {
  SamplePicture picture;
  cv::RNG rng(4711);
  cv::Mat worn = (SmoothNoise(options.size, 4, rng) - 0.12) * 9;
  worn = cv::min(cv::max(worn, 0.0), 1.0);
  cv::Mat foil = cv::Mat::zeros(options.size, CV_32F);
  for (const Outline& outline : stamped) {
    const std::vector<Polyline> polygons = InPhoto(outline, placement);
    const cv::Rect part = Around(polygons, options.size);
    const cv::Mat whole = Coverage(polygons, part);
    cv::Mat coverage = whole.mul(worn(part)), reach;
    cv::GaussianBlur(coverage, coverage, cv::Size(), 1.1);
    cv::dilate(whole, reach, cv::Mat::ones(9, 9, CV_8U));
    picture.foil_edges.push_back(HalfHeight(coverage, reach, part.tl()));
    cv::Mat under = foil(part);
    cv::max(under, coverage, under);
  }
  cv::Mat upright = Compose(foil, rng);
  if (options.grey) {
    cv::cvtColor(upright, upright, cv::COLOR_BGR2GRAY);
  }
  const cv::Mat stored = Stored(upright, options.exif_orientation);
  std::vector<uchar> bytes;
  cv::imencode(options.extension, stored, bytes, {cv::IMWRITE_JPEG_QUALITY, 90});
  image::Photo& photo = picture.photo;
  photo.file = "intake-0417" + options.extension;
  photo.bytes.assign(bytes.begin(), bytes.end());
  photo.sha256 = Sha256Hex(photo.bytes);
  photo.header.format = options.extension == ".jpg" ? image::Format::kJpeg : image::Format::kPng;
  photo.header.width = stored.cols;
  photo.header.height = stored.rows;
  photo.header.exif_orientation = options.exif_orientation;
  if (options.grey) {
    cv::cvtColor(upright, photo.bgr, cv::COLOR_GRAY2BGR);
  } else {
    photo.bgr = upright;
  }
  return picture;
}

}  // namespace debossier::test_support
