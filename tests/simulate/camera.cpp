#include "simulate/camera.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/result.h"

namespace debossier::simulate {
namespace {

constexpr double kRadians = std::numbers::pi / 180;

Eigen::Matrix3d TurnAboutAxis(double angle_deg, const Eigen::Vector3d& axis) {
  return Eigen::AngleAxisd(angle_deg * kRadians, axis).toRotationMatrix();
}

std::array<Point, 4> Corners(const Box& box) {
  return {box.min, Point(box.max.x(), box.min.y()), box.max, Point(box.min.x(), box.max.y())};
}

}  // namespace

Point Stretch::Displacement(double x) const {
  const double t = std::clamp((x - centre) / half_length, -1.2, 1.2);
  const double p2 = 0.5 * (3 * t * t - 1);
  const double p3 = 0.5 * (5 * t * t - 3) * t;
  return {along[0] * p2 + along[1] * p3, across[0] * p2 + across[1] * p3};
}

Camera::Camera(const Box& lettering, const Amounts& a)
    : centre_(lettering.centre()),
      mm_(a.cap_height_mm),
      bend_(a.bend_per_mm),
      distance_(a.distance_mm) {
  DEBOSSIER_ASSERT(!lettering.empty() && mm_ > 0 && distance_ > 0 && a.cap_height_px > 0);
  leather_from_stamp_ << 1 + a.stretch_x, a.shear, 0, 1 + a.stretch_y;
  stamp_from_leather_ = leather_from_stamp_.inverse();
  stretch_ = {centre_.x(),
              std::max(0.5 * lettering.width(), 0.5),
              {a.along2, a.along3},
              {a.across2, a.across3}};
  bend_axis_ = Point(std::cos(a.bend_axis_deg * kRadians), std::sin(a.bend_axis_deg * kRadians));

  // The camera looks along its z with y down; the leather's z comes towards it.
  const Eigen::Matrix3d facing = Eigen::Vector3d(1, -1, -1).asDiagonal();
  const Eigen::Vector3d tilt_axis(std::cos(a.tilt_axis_deg * kRadians),
                                  std::sin(a.tilt_axis_deg * kRadians), 0);
  camera_from_leather_ = facing * TurnAboutAxis(a.turn_deg, Eigen::Vector3d::UnitZ()) *
                         TurnAboutAxis(a.tilt_deg, tilt_axis);
  // Tilt shortens one direction by its cosine; the cap height in px is the root of the area scale.
  const double shortening = std::sqrt(std::cos(a.tilt_deg * kRadians));
  focal_ = a.cap_height_px / (mm_ * shortening) * distance_;
  PlacePrincipalPoint(lettering, a.margin);
  const Eigen::Matrix3d flat = FlatHomography();
  stamp_from_photo_ = flat.inverse();
  photo_from_stamp_ = std::abs(bend_) > 1e-9 ? FittedHomography(lettering) : flat;
}

void Camera::PlacePrincipalPoint(const Box& lettering, double margin) {
  Box shown = lettering;
  shown.min -= Point(margin, margin);
  shown.max += Point(margin, margin);
  Box photo;
  for (const Point& corner : Corners(shown)) photo.Add(ToPhoto(corner));
  const auto side = [](double length) {
    return static_cast<int>(std::clamp(std::ceil(length), 16.0, 1.0 * kLongestSide));
  };
  photo_size_ = cv::Size(side(photo.width()), side(photo.height()));
  principal_ = -photo.min;
}

Eigen::Vector3d Camera::OnPanel(const Point& leather) const {
  if (std::abs(bend_) < 1e-9) return {leather.x(), leather.y(), 0};
  const Point normal(-bend_axis_.y(), bend_axis_.x());
  const double along = leather.dot(bend_axis_);
  const double angle = leather.dot(normal) * bend_;
  const Point flat = along * bend_axis_ + std::sin(angle) / bend_ * normal;
  return {flat.x(), flat.y(), (std::cos(angle) - 1) / bend_};
}

Point Camera::Project(const Eigen::Vector3d& on_panel) const {
  const Eigen::Vector3d seen = camera_from_leather_ * on_panel + Eigen::Vector3d(0, 0, distance_);
  // What lies behind the camera comes out far away, where the picture is found to be too large.
  const double depth = std::max(seen.z(), 1e-3 * distance_);
  return focal_ / depth * seen.head<2>() + principal_;
}

Point Camera::ToPhoto(const Point& stamp) const {
  const Point stretched = stamp + stretch_.Displacement(stamp.x());
  return Project(OnPanel(mm_ * (leather_from_stamp_ * (stretched - centre_))));
}

Point Camera::ToStamp(const Point& photo) const {
  Point stretched;
  if (std::abs(bend_) < 1e-9) {
    stretched = (stamp_from_photo_ * photo.homogeneous()).hnormalized();
  } else {
    // The line of sight, in the leather frame, meets the cylinder y'^2 + (z + R)^2 = R^2.
    const Eigen::Vector3d eye =
        camera_from_leather_.transpose() * Eigen::Vector3d(0, 0, -distance_);
    const Point ray_xy = (photo - principal_) / focal_;
    const Eigen::Vector3d ray =
        camera_from_leather_.transpose() * Eigen::Vector3d(ray_xy.x(), ray_xy.y(), 1);
    const Eigen::Vector3d axis(bend_axis_.x(), bend_axis_.y(), 0);
    const Eigen::Vector3d across(-bend_axis_.y(), bend_axis_.x(), 0);
    const double radius = 1 / bend_;
    const double y0 = eye.dot(across);
    const double z0 = eye.z() + radius;
    const double dy = ray.dot(across);
    const double dz = ray.z();
    const double a = dy * dy + dz * dz;
    const double b = y0 * dy + z0 * dz;
    const double c = y0 * y0 + z0 * z0 - radius * radius;
    const double root = std::sqrt(std::max(0.0, b * b - a * c));
    // Seen from outside of a convex panel the nearer meeting, from inside of a hollow one the
    // farther.
    const double t = (radius > 0 ? -b - root : -b + root) / a;
    const double angle = std::atan2((y0 + t * dy) * bend_, (z0 + t * dz) * bend_);
    const Point leather =
        (eye + t * ray).dot(axis) * bend_axis_ + angle * radius * Point(across.x(), across.y());
    stretched = stamp_from_leather_ * (leather / mm_) + centre_;
  }
  Point stamp = stretched;
  for (int k = 0; k < 3; ++k) stamp = stretched - stretch_.Displacement(stamp.x());
  return stamp;
}

Eigen::Vector3d Camera::TowardsCamera(const Point& stamp) const {
  const Eigen::Vector3d eye = camera_from_leather_.transpose() * Eigen::Vector3d(0, 0, -distance_);
  const Point at = mm_ * (stamp - centre_);
  return (eye - OnPanel(at)).normalized();
}

Point Camera::PanelSlope(const Point& stamp) const {
  const Point across(-bend_axis_.y(), bend_axis_.x());
  const double angle = mm_ * (stamp - centre_).dot(across) * bend_;
  return -std::tan(std::clamp(angle, -1.3, 1.3)) * across;
}

Box Camera::Seen() const {
  // A grid along the border: on a bent panel the corners are not the extremes.
  Box box;
  constexpr int kSteps = 16;
  for (int k = 0; k <= kSteps; ++k) {
    const double x = -1 + (photo_size_.width + 1.0) * k / kSteps;
    const double y = -1 + (photo_size_.height + 1.0) * k / kSteps;
    box.Add(ToStamp({x, -1}));
    box.Add(ToStamp({x, static_cast<double>(photo_size_.height)}));
    box.Add(ToStamp({-1, y}));
    box.Add(ToStamp({static_cast<double>(photo_size_.width), y}));
  }
  return box;
}

Eigen::Matrix3d Camera::FlatHomography() const {
  Eigen::Matrix3d intrinsic;
  intrinsic << focal_, 0, principal_.x(), 0, focal_, principal_.y(), 0, 0, 1;
  Eigen::Matrix3d pose;
  pose.col(0) = camera_from_leather_.col(0);
  pose.col(1) = camera_from_leather_.col(1);
  pose.col(2) = Eigen::Vector3d(0, 0, distance_);
  Eigen::Matrix3d leather = Eigen::Matrix3d::Identity();
  leather.topLeftCorner<2, 2>() = mm_ * leather_from_stamp_;
  leather.topRightCorner<2, 1>() = -mm_ * (leather_from_stamp_ * centre_);
  const Eigen::Matrix3d homography = intrinsic * pose * leather;
  return homography / homography(2, 2);
}

Eigen::Matrix3d Camera::FittedHomography(const Box& lettering) const {
  // Direct linear transform (Hartley and Zisserman, Multiple View Geometry, 4.1) on a grid over the
  // lettering, in coordinates scaled to about 1 on both sides.
  const double stamp_scale = 0.5 * std::max(lettering.width(), lettering.height());
  const double photo_scale = 0.5 * std::max(photo_size_.width, photo_size_.height);
  constexpr Eigen::Index kColumns = 21;
  constexpr Eigen::Index kRows = 7;
  Eigen::Matrix<double, Eigen::Dynamic, 9> equations(2 * kColumns * kRows, 9);
  for (Eigen::Index k = 0; k < kColumns * kRows; ++k) {
    const Eigen::Index row = k / kColumns;
    const double u = static_cast<double>(k % kColumns) / (kColumns - 1);
    const double v = static_cast<double>(row) / (kRows - 1);
    const Point stretched = lettering.min + Point(u * lettering.width(), v * lettering.height());
    const Point photo = Project(OnPanel(mm_ * (leather_from_stamp_ * (stretched - centre_))));
    const Point s = (stretched - centre_) / stamp_scale;
    const Point p = photo / photo_scale;
    equations.row(2 * k) << s.x(), s.y(), 1, 0, 0, 0, -p.x() * s.x(), -p.x() * s.y(), -p.x();
    equations.row(2 * k + 1) << 0, 0, 0, s.x(), s.y(), 1, -p.y() * s.x(), -p.y() * s.y(), -p.y();
  }
  const Eigen::JacobiSVD<Eigen::MatrixXd> svd(equations, Eigen::ComputeThinV);
  const Eigen::Matrix<double, 9, 1> solution = svd.matrixV().col(8);
  Eigen::Matrix3d scaled;
  scaled << solution(0), solution(1), solution(2), solution(3), solution(4), solution(5),
      solution(6), solution(7), solution(8);
  Eigen::Matrix3d from_stamp = Eigen::Matrix3d::Identity() / stamp_scale;
  from_stamp(2, 2) = 1;
  from_stamp.topRightCorner<2, 1>() = -centre_ / stamp_scale;
  const Eigen::Matrix3d to_photo = Eigen::Vector3d(photo_scale, photo_scale, 1).asDiagonal();
  const Eigen::Matrix3d homography = to_photo * scaled * from_stamp;
  return homography / homography(2, 2);
}

}  // namespace debossier::simulate
