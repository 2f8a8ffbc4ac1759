#include "card/plane_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace debossier::card {

namespace {

using Vector8 = Eigen::Matrix<double, 8, 1>;
using Matrix8 = Eigen::Matrix<double, 8, 8>;

/// Moves the middle of the points to the origin and their mean distance to the root of two.
Eigen::Matrix3d Normaliser(std::span<const PlanePoint> points, Point PlanePoint::*which) {
  Point middle = Point::Zero();
  for (const auto& p : points) middle += p.*which / static_cast<double>(points.size());
  double distance = 0;
  for (const auto& p : points) distance += (p.*which - middle).norm() / points.size();
  const double scale = std::sqrt(2.0) / std::max(distance, 1e-9);
  Eigen::Matrix3d t;
  t << scale, 0, -scale * middle.x(), 0, scale, -scale * middle.y(), 0, 0, 1;
  return t;
}

std::optional<Eigen::Matrix3d> DirectLinear(std::span<const PlanePoint> points) {
  const Eigen::Matrix3d from = Normaliser(points, &PlanePoint::plane);
  const Eigen::Matrix3d to = Normaliser(points, &PlanePoint::photo);
  Eigen::MatrixXd rows(2 * points.size(), 9);
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Point p = Applied(from, points[i].plane);
    const Point q = Applied(to, points[i].photo);
    rows.row(2 * i) << p.x(), p.y(), 1, 0, 0, 0, -q.x() * p.x(), -q.x() * p.y(), -q.x();
    rows.row(2 * i + 1) << 0, 0, 0, p.x(), p.y(), 1, -q.y() * p.x(), -q.y() * p.y(), -q.y();
  }
  const Eigen::JacobiSVD<Eigen::MatrixXd> svd(rows, Eigen::ComputeFullV);
  // On a line the eighth direction is as free as the ninth.
  if (svd.singularValues()(7) < 1e-3 * svd.singularValues()(0)) return std::nullopt;
  const Eigen::Matrix<double, 9, 1> h = svd.matrixV().col(8);
  Eigen::Matrix3d m;
  m << h(0), h(1), h(2), h(3), h(4), h(5), h(6), h(7), h(8);
  m = to.inverse() * m * from;
  if (!(std::abs(m(2, 2)) > 1e-12 * m.norm())) return std::nullopt;
  return m / m(2, 2);
}

Vector8 Entries(const Eigen::Matrix3d& h) {
  Vector8 e;
  e << h(0, 0), h(0, 1), h(0, 2), h(1, 0), h(1, 1), h(1, 2), h(2, 0), h(2, 1);
  return e;
}

Eigen::Matrix3d FromEntries(const Vector8& e) {
  Eigen::Matrix3d h;
  h << e(0), e(1), e(2), e(3), e(4), e(5), e(6), e(7), 1;
  return h;
}

struct Normal {
  Matrix8 information = Matrix8::Zero();
  Vector8 gradient = Vector8::Zero();
  double chi_square = 0;
};

Normal Linearise(std::span<const PlanePoint> points, const Eigen::Matrix3d& h) {
  Normal n;
  for (const auto& point : points) {
    const Eigen::Vector3d q = h * Eigen::Vector3d(point.plane.x(), point.plane.y(), 1);
    const Point photo(q.x() / q.z(), q.y() / q.z());
    const Point r = (point.photo - photo) / point.u_px;
    Eigen::Matrix<double, 2, 8> j;
    const double x = point.plane.x(), y = point.plane.y();
    j << x, y, 1, 0, 0, 0, -photo.x() * x, -photo.x() * y,  //
        0, 0, 0, x, y, 1, -photo.y() * x, -photo.y() * y;
    j /= q.z() * point.u_px;
    n.information += j.transpose() * j;
    n.gradient += j.transpose() * r;
    n.chi_square += r.squaredNorm();
  }
  return n;
}

/// The inverse, with rows and columns brought to one size first: the entries' units differ by
/// thousands.
std::optional<Matrix8> Inverse(const Matrix8& information) {
  const Vector8 scale = information.diagonal().cwiseSqrt().cwiseMax(1e-300).cwiseInverse();
  const Matrix8 even = scale.asDiagonal() * information * scale.asDiagonal();
  const Eigen::LDLT<Matrix8> solver(even);
  if (solver.info() != Eigen::Success || solver.rcond() < 1e-14) return std::nullopt;
  return Matrix8(scale.asDiagonal() * solver.solve(Matrix8::Identity()) * scale.asDiagonal());
}

}  // namespace

Point Applied(const Eigen::Matrix3d& h, const Point& p) {
  const Eigen::Vector3d q = h * Eigen::Vector3d(p.x(), p.y(), 1);
  return {q.x() / q.z(), q.y() / q.z()};
}

Eigen::Matrix2d JacobianOf(const Eigen::Matrix3d& h, const Point& p) {
  const Eigen::Vector3d q = h * Eigen::Vector3d(p.x(), p.y(), 1);
  Eigen::Matrix2d j;
  for (int r = 0; r < 2; ++r) {
    for (int c = 0; c < 2; ++c) j(r, c) = (h(r, c) - q(r) / q.z() * h(2, c)) / q.z();
  }
  return j;
}

Point PlaneFit::ToPlane(const Point& photo) const {
  return Applied(photo_from_plane.inverse(), photo);
}

double PlaneFit::UncertaintyOf(const std::function<double(const Eigen::Matrix3d&)>& f) const {
  // Correlations first, for the same reason as in Inverse().
  const Vector8 deviation = covariance.diagonal().cwiseSqrt();
  const Vector8 safe = deviation.cwiseMax(1e-300);
  const Matrix8 correlation =
      safe.cwiseInverse().asDiagonal() * covariance * safe.cwiseInverse().asDiagonal();
  const Eigen::SelfAdjointEigenSolver<Matrix8> axes(correlation);
  const Vector8 entries = Entries(photo_from_plane);
  double variance = 0;
  for (int k = 0; k < 8; ++k) {
    const double length = std::sqrt(std::max(axes.eigenvalues()(k), 0.0));
    const Vector8 step = length * deviation.asDiagonal() * axes.eigenvectors().col(k);
    const double half = 0.5 * (f(FromEntries(entries + step)) - f(FromEntries(entries - step)));
    variance += half * half;
  }
  return std::sqrt(variance);
}

std::optional<PlaneFit> FitPlane(std::span<const PlanePoint> points) {
  if (points.size() < 4) return std::nullopt;
  const auto start = DirectLinear(points);
  if (!start) return std::nullopt;
  Eigen::Matrix3d h = *start;
  constexpr int kMostSteps = 20;
  double before = Linearise(points, h).chi_square;
  for (int step = 0; step < kMostSteps; ++step) {
    const Normal n = Linearise(points, h);
    const auto inverse = Inverse(n.information);
    if (!inverse) return std::nullopt;
    const Eigen::Matrix3d next = FromEntries(Entries(h) + *inverse * n.gradient);
    const double after = Linearise(points, next).chi_square;
    if (!std::isfinite(after)) return std::nullopt;
    if (after >= before) break;
    h = next;
    const bool settled = before - after < 1e-9 * (1 + before);
    before = after;
    if (settled) break;
  }
  PlaneFit fit;
  fit.photo_from_plane = h;
  const auto covariance = Inverse(Linearise(points, h).information);
  if (!covariance) return std::nullopt;
  fit.degrees_of_freedom = 2 * static_cast<int>(points.size()) - 8;
  if (fit.degrees_of_freedom > 0) {
    fit.birge = std::max(1.0, std::sqrt(before / fit.degrees_of_freedom));
  }
  fit.covariance = fit.birge * fit.birge * *covariance;
  double sum = 0;
  for (const auto& p : points) {
    const Point residual = fit.ToPlane(p.photo) - p.plane;
    sum += residual.squaredNorm();
    fit.residuals_mm.push_back(residual);
  }
  fit.residual_rms_mm = std::sqrt(sum / static_cast<double>(points.size()));
  return fit;
}

}  // namespace debossier::card
