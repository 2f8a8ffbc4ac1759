#include "card/refine_marks.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "base/robust.h"
#include "card/design.h"
#include "card/sample_grey.h"

namespace debossier::card {

namespace {

constexpr int kRays = 96;
constexpr int kSteps = 40;
constexpr double kReachMm = 0.68;  // to both sides of the edge; the ring begins at 0.8 mm
constexpr double kMostScatterMm = 0.12;
constexpr double kLeastContrast = 20;  // grey levels
/// Placing accuracy of a usual laser or ink-jet printer over a few centimetres, from memory.
constexpr double kPrinterMm = 0.015;

struct Ray {
  double cosine = 0;
  double sine = 0;
  std::array<double, kSteps> level{};  ///< From the inside outwards.
};

/// Least squares of `values` on 1, cosine and sine.
Eigen::Vector3d FitTurn(const std::vector<Ray>& rays, const std::vector<double>& values) {
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  for (std::size_t i = 0; i < rays.size(); ++i) {
    const Eigen::Vector3d row(1, rays[i].cosine, rays[i].sine);
    normal += row * row.transpose();
    right += row * values[i];
  }
  return normal.ldlt().solve(right);
}

/// Outward distance of the edge from the drawn radius on each ray, mm.
std::vector<double> Edges(const std::vector<Ray>& rays) {
  constexpr int kEnd = kSteps / 8;
  std::vector<double> inner, outer;
  for (const Ray& ray : rays) {
    double in = 0, out = 0;
    for (int k = 0; k < kEnd; ++k) {
      in += ray.level[static_cast<std::size_t>(k)] / kEnd;
      out += ray.level[static_cast<std::size_t>(kSteps - 1 - k)] / kEnd;
    }
    inner.push_back(in);
    outer.push_back(out);
  }
  // Light varies over a dot as a plane does; one ray's own ends would bring its noise in.
  const Eigen::Vector3d dark = FitTurn(rays, inner), bright = FitTurn(rays, outer);
  std::vector<double> edges;
  for (const Ray& ray : rays) {
    const Eigen::Vector3d row(1, ray.cosine, ray.sine);
    const double d = row.dot(dark), b = row.dot(bright);
    if (b - d < kLeastContrast) return {};
    double share = 0;
    for (const double level : ray.level) share += std::clamp((b - level) / (b - d), -0.5, 1.5);
    edges.push_back(kReachMm * (2 * share / kSteps - 1));
  }
  return edges;
}

}  // namespace

std::optional<PlanePoint> RefineMark(const cv::Mat& grey, const Eigen::Matrix3d& photo_from_card,
                                     const Point& centre) {
  const SampleGrey sample(grey);
  std::vector<Ray> rays;
  for (int i = 0; i < kRays; ++i) {
    const double angle = 2 * std::numbers::pi * i / kRays;
    Ray ray{std::cos(angle), std::sin(angle), {}};
    for (int k = 0; k < kSteps; ++k) {
      const double radius = kDotMm + kReachMm * (2 * (k + 0.5) / kSteps - 1);
      const Point at = Applied(photo_from_card, centre + radius * Point(ray.cosine, ray.sine));
      if (!sample.Holds(at)) return std::nullopt;
      ray.level[static_cast<std::size_t>(k)] = sample.At(at);
    }
    rays.push_back(ray);
  }
  const std::vector<double> edges = Edges(rays);
  if (edges.empty()) return std::nullopt;
  // Radius, shift, and the ellipse that an inexact homography leaves; Tukey's biweight.
  Eigen::Matrix<double, kRays, 5> rows;
  Eigen::Matrix<double, kRays, 1> values, weights;
  for (int i = 0; i < kRays; ++i) {
    const double c = rays[static_cast<std::size_t>(i)].cosine;
    const double s = rays[static_cast<std::size_t>(i)].sine;
    rows.row(i) << 1, c, s, c * c - s * s, 2 * c * s;
    values(i) = edges[static_cast<std::size_t>(i)];
    weights(i) = 1;
  }
  Eigen::Matrix<double, 5, 1> fit;
  double scatter = 0;
  for (int round = 0; round < 4; ++round) {
    const auto weighted = weights.asDiagonal() * rows;
    fit = (rows.transpose() * weighted)
              .ldlt()
              .solve(rows.transpose() * weights.asDiagonal() * values);
    const Eigen::Matrix<double, kRays, 1> residual = values - rows * fit;
    scatter = std::max(SigmaOf({residual.data(), residual.data() + kRays}), 1e-4);
    for (int i = 0; i < kRays; ++i) weights(i) = BiweightOf(residual(i) / scatter);
  }
  if (scatter > kMostScatterMm || weights.sum() < 0.7 * kRays) return std::nullopt;
  if (std::hypot(fit(1), fit(2)) > 0.5 || std::abs(fit(0)) > 0.4) return std::nullopt;
  const Eigen::Matrix2d pixels = JacobianOf(photo_from_card, centre);
  const double px_per_mm = std::sqrt(std::abs(pixels.determinant()));
  PlanePoint refined;
  refined.plane = centre;
  refined.photo = Applied(photo_from_card, centre + Point(fit(1), fit(2)));
  // Rays closer than two pixels at the edge see the same pixels.
  const double independent =
      std::min<double>(kRays, std::numbers::pi * kDotMm * px_per_mm) * weights.sum() / kRays;
  const double u_edge = scatter * std::sqrt(2 / std::max(independent, 4.0));
  refined.u_px = std::hypot(u_edge, kPrinterMm) * px_per_mm;
  return refined;
}

}  // namespace debossier::card
