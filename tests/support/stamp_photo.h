// Plain drawn stamps for tests: dark lettering of the project's own alphabet on a light ground,
// with a known placement. The simulator makes photographs; these are for exact geometry.
#pragma once

#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "outline/lettering.h"
#include "outline/ufo.h"
#include "trace/consensus.h"

namespace debossier::test {

/// Sets lines in glyphs/plain-sans.ufo by advances; cap height 1.
inline outline::Lettering DrawnLettering(const std::vector<std::pair<std::string, double>>& lines) {
  const auto font = outline::LoadUfo(std::string(DEBOSSIER_SOURCE) + "/glyphs/plain-sans.ufo");
  if (!font) throw std::runtime_error(font.error().ToString());
  outline::Lettering lettering;
  double baseline = 0;
  for (std::size_t l = 0; l < lines.size(); ++l) {
    const double size = lines[l].second;
    if (l > 0) baseline -= 1.1;
    const std::string id = l == 0 ? "wordmark" : "origin";
    lettering.lines.push_back({id, lines[l].first, baseline, size, 0});
    double x = 0;
    const auto characters = outline::Characters(lines[l].first);
    for (std::size_t i = 0; i < characters.size(); ++i) {
      for (const auto& glyph : font->glyphs) {
        const std::string wanted = characters[i];
        if (glyph.unicodes.empty() || wanted.size() != 1 ||
            glyph.unicodes[0] != static_cast<char32_t>(wanted[0])) {
          continue;
        }
        outline::Affine place;
        place.linear = Eigen::Matrix2d::Identity() * (size / font->cap_height);
        place.offset = outline::Point(x, baseline);
        if (!glyph.outline.empty()) {
          outline::Element e;
          e.id = id + "." + std::to_string(i);
          e.line_idx = static_cast<int>(l);
          e.character = wanted;
          e.outline = outline::Transformed(glyph.outline, place);
          lettering.elements.push_back(std::move(e));
        }
        x += glyph.advance * size / font->cap_height;
        break;
      }
    }
  }
  trace::Normalise(lettering);
  return lettering;
}

/// Area of each pixel that the lettering covers (CV_8U, 255 for all of it), with 8 x 8 samples.
inline cv::Mat DrawCoverage(const outline::Lettering& lettering,
                            const Eigen::Matrix3d& photo_from_stamp, const cv::Size& size) {
  constexpr int kFine = 8;
  cv::Mat fine = cv::Mat::zeros(size * kFine, CV_8U);
  for (const auto& e : lettering.elements) {
    std::vector<std::vector<cv::Point>> polygons;
    for (const auto& line : outline::Flatten(e.outline, 0.0005)) {
      std::vector<cv::Point> points;
      for (const auto& p : line) {
        const Eigen::Vector3d h = photo_from_stamp * Eigen::Vector3d(p.x(), p.y(), 1);
        points.emplace_back(cvRound(((h.x() / h.z() + 0.5) * kFine - 0.5) * 16),
                            cvRound(((h.y() / h.z() + 0.5) * kFine - 0.5) * 16));
      }
      polygons.push_back(points);
    }
    cv::Rect box;
    for (const auto& points : polygons) box |= cv::boundingRect(points);
    const cv::Point corner(box.x / 16 - 2, box.y / 16 - 2);
    const cv::Rect part = cv::Rect(corner.x, corner.y, box.width / 16 + 5, box.height / 16 + 5) &
                          cv::Rect(cv::Point(), fine.size());
    if (part.empty()) continue;
    cv::Mat own = cv::Mat::zeros(part.size(), CV_8U);
    cv::fillPoly(own, polygons, cv::Scalar(255), cv::LINE_8, 4, -16 * part.tl());
    fine(part) |= own;
  }
  cv::Mat coverage;
  cv::resize(fine, coverage, size, 0, 0, cv::INTER_AREA);
  return coverage;
}

/// A photo of it, dark on light, with a blur of 1 px and some noise.
inline cv::Mat DrawStamp(const outline::Lettering& lettering,
                         const Eigen::Matrix3d& photo_from_stamp, const cv::Size& size) {
  cv::Mat coverage = DrawCoverage(lettering, photo_from_stamp, size);
  cv::GaussianBlur(coverage, coverage, cv::Size(), 1.0);
  cv::Mat bgr(size, CV_8UC3);
  cv::RNG noise(5);
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      const double a = coverage.at<unsigned char>(y, x) / 255.0;
      const cv::Vec3d c = cv::Vec3d(120, 150, 180) * (1 - a) + cv::Vec3d(35, 30, 30) * a;
      for (int k = 0; k < 3; ++k) {
        bgr.at<cv::Vec3b>(y, x)[k] = cv::saturate_cast<unsigned char>(c[k] + noise.gaussian(2));
      }
    }
  }
  return bgr;
}

/// A similarity that turns by `degrees` counter-clockwise as seen and centres the lettering.
inline Eigen::Matrix3d Placed(const outline::Lettering& lettering, double px_per_cap,
                              double degrees, const cv::Size& size) {
  const outline::Point c = outline::Bounds(lettering).centre();
  const double a = degrees * 3.14159265358979 / 180;
  Eigen::Matrix3d m = Eigen::Matrix3d::Identity();
  m << px_per_cap * std::cos(a), -px_per_cap * std::sin(a), 0, -px_per_cap * std::sin(a),
      -px_per_cap * std::cos(a), 0, 0, 0, 1;
  const Eigen::Vector3d at = m * Eigen::Vector3d(c.x(), c.y(), 1);
  m(0, 2) = size.width / 2.0 - at.x();
  m(1, 2) = size.height / 2.0 - at.y();
  return m;
}

}  // namespace debossier::test
