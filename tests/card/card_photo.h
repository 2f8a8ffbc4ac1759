// Photos of the printed scale card, and of drawn lettering beside it, with known truth.
//
// The card is the program's own PDF, rastered by poppler: what is found was printed. A pinhole
// camera looks at a table (mm, x right, y down as seen, z towards the camera); card and lettering
// lie on it, or are lifted, tilted or bent. Light that falls off to one side, blur in linear light,
// noise and JPEG follow. The simulator's leather is used where a whole comparison is tested.
#pragma once

#include <unistd.h>
#include <Eigen/Dense>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <numbers>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <stdexcept>
#include <string>
#include <vector>

#include "card/design.h"
#include "card/plane_fit.h"
#include "outline/lettering.h"
#include "report/card_pdf.h"

namespace debossier::test {

using outline::Point;

constexpr double kDegree = std::numbers::pi / 180;

/// The page as poppler draws it at `dpi`, grey.
inline cv::Mat RasteredPage(const std::string& pdf, int dpi) {
  const auto folder =
      std::filesystem::temp_directory_path() / ("debossier-card-" + std::to_string(getpid()));
  std::filesystem::create_directories(folder);
  std::ofstream(folder / "card.pdf", std::ios::binary) << pdf;
  const std::string command = "pdftoppm -gray -singlefile -r " + std::to_string(dpi) + " -png " +
                              (folder / "card.pdf").string() + " " + (folder / "card").string();
  const int status = std::system(command.c_str());
  cv::Mat page = cv::imread((folder / "card.png").string(), cv::IMREAD_GRAYSCALE);
  std::filesystem::remove_all(folder);
  if (status != 0 || page.empty()) throw std::runtime_error("pdftoppm failed");
  return page;
}

/// Reflectance and cover over a rectangle in mm.
struct Sheet {
  cv::Mat1f reflectance;
  cv::Mat1f cover;
  double texels_per_mm = 1;
  Point corner{0, 0};  ///< Upper left, mm.
  double width() const { return reflectance.cols / texels_per_mm; }
  double height() const { return reflectance.rows / texels_per_mm; }
};

/// The card cut out of the printed page; `window_cut` takes the window away.
inline Sheet PrintedCard(bool window_cut = false) {
  constexpr int kDpi = 600;
  static const cv::Mat page = [] {
    const auto pdf = report::CardPdf();
    if (!pdf) throw std::runtime_error(pdf.error().ToString());
    return RasteredPage(*pdf, kDpi);
  }();
  Sheet sheet;
  sheet.texels_per_mm = kDpi / 25.4;
  // A whole number of texels; the rest of a texel is kept as the corner's place.
  const int x = static_cast<int>(std::ceil(report::kCardLeftMm * sheet.texels_per_mm));
  const int y = static_cast<int>(std::ceil(report::kCardTopMm * sheet.texels_per_mm));
  sheet.corner = Point(x / sheet.texels_per_mm - report::kCardLeftMm,
                       y / sheet.texels_per_mm - report::kCardTopMm);
  const int width = static_cast<int>(card::kWidthMm * sheet.texels_per_mm) - 1;
  const int height = static_cast<int>(card::kHeightMm * sheet.texels_per_mm) - 1;
  cv::Mat grey;
  page(cv::Rect(x, y, width, height)).convertTo(grey, CV_32F, 0.80 / 255, 0.05);
  sheet.reflectance = grey;
  sheet.cover = cv::Mat1f(grey.size(), 1.0f);
  if (window_cut) {
    const int arm = static_cast<int>(card::kArmMm * sheet.texels_per_mm);
    sheet.cover(cv::Rect(arm, arm, width - arm, height - arm)).setTo(0);
  }
  return sheet;
}

/// Lettering in foil, its stamp frame's origin at (0, 0) of the sheet's mm.
inline Sheet DrawnFoil(const outline::Lettering& lettering, double cap_mm) {
  Sheet sheet;
  sheet.texels_per_mm = 40;
  const outline::Box box = outline::Bounds(lettering);
  const double scale = cap_mm * sheet.texels_per_mm;
  const cv::Size size(static_cast<int>((box.width() + 0.4) * scale),
                      static_cast<int>((box.height() + 0.4) * scale));
  sheet.corner = cap_mm * Point(box.min.x() - 0.2, -box.max.y() - 0.2);
  cv::Mat1b ink = cv::Mat1b::zeros(size);
  for (const auto& element : lettering.elements) {
    std::vector<std::vector<cv::Point>> polygons;
    for (const auto& line : outline::Flatten(element.outline, 0.0005)) {
      std::vector<cv::Point> points;
      for (const auto& p : line) {
        const Point at = scale * Point(p.x() - box.min.x() + 0.2, box.max.y() + 0.2 - p.y());
        points.emplace_back(cvRound((at.x() - 0.5) * 16), cvRound((at.y() - 0.5) * 16));
      }
      polygons.push_back(points);
    }
    cv::Mat1b own = cv::Mat1b::zeros(size);
    cv::fillPoly(own, polygons, cv::Scalar(255), cv::LINE_AA, 4);
    ink = cv::max(ink, own);
  }
  ink.convertTo(sheet.cover, CV_32F, 1.0 / 255);
  sheet.reflectance = cv::Mat1f(size, 0.62f);
  return sheet;
}

struct Camera {
  cv::Size size{2000, 1500};
  double px_per_mm = 14;  ///< At the table's origin, without tilt.
  double distance_mm = 260;
  double tilt_deg = 0;
  double tilt_axis_deg = 0;
  double turn_deg = 0;
  Point middle{45, 40};  ///< Table mm in the picture's middle.

  double focal_px() const { return px_per_mm * distance_mm; }
  /// As EXIF has it.
  double focal_length_35mm() const {
    return focal_px() * 43.2666 / std::hypot(size.width, size.height);
  }
  Point ToPhoto(const Eigen::Vector3d& table) const {
    const Eigen::Vector3d axis(std::cos(tilt_axis_deg * kDegree), std::sin(tilt_axis_deg * kDegree),
                               0);
    const Eigen::Matrix3d turn = (Eigen::AngleAxisd(turn_deg * kDegree, Eigen::Vector3d::UnitZ()) *
                                  Eigen::AngleAxisd(tilt_deg * kDegree, axis))
                                     .toRotationMatrix();
    const Eigen::Vector3d seen = turn * (table - Eigen::Vector3d(middle.x(), middle.y(), 0));
    return focal_px() / (distance_mm - seen.z()) * Point(seen.x(), seen.y()) +
           Point((size.width - 1) / 2.0, (size.height - 1) / 2.0);
  }
};

using OnTable = std::function<Eigen::Vector3d(const Point& sheet_mm)>;

/// Flat on the table, the sheet's origin at `at`, turned, `lift_mm` above it, tilted about x.
inline OnTable Laid(const Point& at, double turn_deg = 0, double lift_mm = 0, double tilt_deg = 0) {
  const Eigen::Matrix3d turn = (Eigen::AngleAxisd(turn_deg * kDegree, Eigen::Vector3d::UnitZ()) *
                                Eigen::AngleAxisd(tilt_deg * kDegree, Eigen::Vector3d::UnitX()))
                                   .toRotationMatrix();
  return [=](const Point& p) -> Eigen::Vector3d {
    return turn * Eigen::Vector3d(p.x(), p.y(), 0) + Eigen::Vector3d(at.x(), at.y(), lift_mm);
  };
}

/// Rolled about the card's y axis to this radius, its middle lying on the table.
inline OnTable Rolled(const Point& at, double radius_mm) {
  return [=](const Point& p) -> Eigen::Vector3d {
    const double angle = (p.x() - card::kWidthMm / 2) / radius_mm;
    return {at.x() + card::kWidthMm / 2 + radius_mm * std::sin(angle), at.y() + p.y(),
            radius_mm * (1 - std::cos(angle))};
  };
}

struct Exposure {
  double blur_px = 1.0;
  double noise = 2.5;   ///< Standard deviation, grey levels.
  double uneven = 0.3;  ///< Light lost from one side of the picture to the other.
  int jpeg_quality = 88;
  std::uint64_t seed = 1;
};

class Scene {
 public:
  explicit Scene(const Camera& camera, float leather = 0.12f, std::uint64_t seed = 1)
      : camera_(camera), light_(camera.size) {
    cv::RNG random(seed * 7919 + 1);
    cv::Mat1f fine(camera.size), coarse(camera.size / 16);
    random.fill(fine, cv::RNG::NORMAL, 0, 1);
    random.fill(coarse, cv::RNG::NORMAL, 0, 1);
    cv::GaussianBlur(fine, fine, cv::Size(), 3);
    cv::Mat1f wide;
    cv::resize(coarse, wide, camera.size, 0, 0, cv::INTER_CUBIC);
    light_ = leather * (1 + 0.9 * fine + 0.05 * wide);
  }

  Point ToPhoto(const OnTable& on_table, const Point& sheet_mm) const {
    return camera_.ToPhoto(on_table(sheet_mm));
  }

  void Lay(const Sheet& sheet, const OnTable& on_table) {
    outline::Box bounds;
    for (int i = 0; i <= 8; ++i) {
      for (int k = 0; k <= 8; ++k) {
        bounds.Add(ToPhoto(
            on_table, sheet.corner + Point(sheet.width() * i / 8.0, sheet.height() * k / 8.0)));
      }
    }
    const cv::Rect all(cv::Point(0, 0), camera_.size);
    const cv::Rect seen =
        cv::Rect(
            cv::Point(static_cast<int>(bounds.min.x()) - 3, static_cast<int>(bounds.min.y()) - 3),
            cv::Point(static_cast<int>(bounds.max.x()) + 4, static_cast<int>(bounds.max.y()) + 4)) &
        all;
    constexpr int kFine = 3;
    for (int y = seen.y; y < seen.y + seen.height; ++y) {
      Point at = sheet.corner + 0.5 * Point(sheet.width(), sheet.height());
      for (int x = seen.x; x < seen.x + seen.width; ++x) {
        Eigen::Matrix2d sheet_per_px;
        at = Inverse(on_table, Point(x, y), at, sheet_per_px);
        double light = 0, cover = 0;
        for (int k = 0; k < kFine * kFine; ++k) {
          const Point part((k % kFine + 0.5) / kFine - 0.5, (k / kFine + 0.5) / kFine - 0.5);
          Sample(sheet, at + sheet_per_px * part, light, cover);
        }
        light /= kFine * kFine;
        cover /= kFine * kFine;
        light_(y, x) = static_cast<float>((1 - cover) * light_(y, x) + light);
      }
    }
  }

  /// Something dark over a part of the photo.
  void Cover(const cv::Rect& part) { light_(part & cv::Rect({0, 0}, camera_.size)).setTo(0.1f); }

  cv::Mat Photograph(const Exposure& e) const {
    cv::Mat1f seen = light_.clone();
    cv::RNG random(e.seed * 104729 + 3);
    const double direction = random.uniform(0.0, 2 * std::numbers::pi);
    const Point across = Point(std::cos(direction), std::sin(direction));
    const Point middle(camera_.size.width / 2.0, camera_.size.height / 2.0);
    for (int y = 0; y < seen.rows; ++y) {
      for (int x = 0; x < seen.cols; ++x) {
        const double t = (Point(x, y) - middle).dot(across) / middle.norm();
        seen(y, x) *= static_cast<float>(1 - e.uneven * (0.5 + 0.5 * t));
      }
    }
    if (e.blur_px > 0) cv::GaussianBlur(seen, seen, cv::Size(), e.blur_px);
    cv::Mat3b bgr(seen.size());
    const cv::Vec3d tint(0.72, 0.86, 1.0);
    for (int y = 0; y < seen.rows; ++y) {
      for (int x = 0; x < seen.cols; ++x) {
        for (int k = 0; k < 3; ++k) {
          const double linear = std::clamp(1.1 * tint[k] * seen(y, x), 0.0, 1.0);
          const double coded =
              linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1 / 2.4) - 0.055;
          bgr(y, x)[k] = cv::saturate_cast<unsigned char>(255 * coded + random.gaussian(e.noise));
        }
      }
    }
    std::vector<unsigned char> jpeg;
    cv::imencode(".jpg", bgr, jpeg, {cv::IMWRITE_JPEG_QUALITY, e.jpeg_quality});
    return cv::imdecode(jpeg, cv::IMREAD_COLOR);
  }

  const Camera& camera() const { return camera_; }

 private:
  // Newton's method; the start is the pixel's neighbour.
  Point Inverse(const OnTable& on_table, const Point& photo, Point at,
                Eigen::Matrix2d& sheet_per_px) const {
    for (int step = 0; step < 6; ++step) {
      const Point here = ToPhoto(on_table, at);
      Eigen::Matrix2d j;
      constexpr double kStep = 1e-3;
      j.col(0) = (ToPhoto(on_table, at + Point(kStep, 0)) - here) / kStep;
      j.col(1) = (ToPhoto(on_table, at + Point(0, kStep)) - here) / kStep;
      sheet_per_px = j.inverse();
      const Point miss = photo - here;
      at += sheet_per_px * miss;
      if (miss.norm() < 1e-4) break;
    }
    return at;
  }
  static void Sample(const Sheet& sheet, const Point& mm, double& light, double& cover) {
    const Point t = sheet.texels_per_mm * (mm - sheet.corner) - Point(0.5, 0.5);
    const int x = static_cast<int>(std::floor(t.x())), y = static_cast<int>(std::floor(t.y()));
    const double a = t.x() - x, b = t.y() - y;
    for (int k = 0; k < 4; ++k) {
      const int i = x + k % 2, j = y + k / 2;
      if (i < 0 || j < 0 || i >= sheet.cover.cols || j >= sheet.cover.rows) continue;
      const double w = (k % 2 ? a : 1 - a) * (k / 2 ? b : 1 - b);
      cover += w * sheet.cover(j, i);
      light += w * sheet.cover(j, i) * sheet.reflectance(j, i);
    }
  }

  Camera camera_;
  cv::Mat1f light_;
};

}  // namespace debossier::test
