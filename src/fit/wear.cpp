#include "fit/wear.h"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <utility>

#include "base/quantile.h"

namespace debossier::fit {

namespace {

/// Mean square of the stretches' mean displacements inward, less that outward: foil wears off and
/// does not grow, while letters of another form stray both ways.
double ChipVariance(const ElementFit& fit) {
  double squares = 0;
  int stretches = 0;
  double sum = 0;
  double seen = 0;
  double length = 0;
  const auto close = [&] {
    // Half a stretch at least: a few samples would count for a whole one.
    if (seen > 0.5 * kChipLength) {
      const double mean = sum / seen;
      squares -= mean * std::abs(mean);
      ++stretches;
    }
    sum = seen = length = 0;
  };
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    const bool other = i > 0 && fit.edges[i].contour_idx != fit.edges[i - 1].contour_idx;
    if (other || length > kChipLength) close();
    const ModelEdge& e = fit.edges[i];
    length += e.length;
    if (fit.readings[i].kind != EdgeReading::Kind::kEdge) continue;
    sum += e.length * fit.readings[i].displacement;
    seen += e.length;
  }
  close();
  // What the fit itself takes up of the residuals.
  const double free = stretches - kElementUnknowns;
  return free > 0 ? squares / free : 0;
}

}  // namespace

double ChipVariance(const std::vector<ElementFit>& elements) {
  constexpr std::size_t kFewest = 4;
  std::vector<double> each;
  for (const ElementFit& fit : elements) {
    if (fit.found) each.push_back(ChipVariance(fit));
  }
  if (each.size() < kFewest) return 0;
  return std::max(0.0, UpperMedian(std::move(each)));
}

void CarryWear(std::vector<ElementFit>& elements) {
  const double variance = ChipVariance(elements);
  if (variance <= 0) return;
  for (ElementFit& fit : elements) {
    if (!fit.found) continue;
    const Eigen::LLT<ElementMatrix> root(fit.covariance);
    if (root.info() != Eigen::Success) continue;
    // In the frame in which the covariance is the unit matrix.
    ElementMatrix wear = root.matrixL().solve(variance * fit.leverage);
    wear = root.matrixL().solve(wear.transpose()).eval();
    const Eigen::SelfAdjointEigenSolver<ElementMatrix> axes(0.5 * (wear + wear.transpose()));
    if (axes.info() != Eigen::Success) continue;
    const ElementMatrix back = root.matrixL() * axes.eigenvectors();
    fit.covariance = back * axes.eigenvalues().cwiseMax(1.0).asDiagonal() * back.transpose();
  }
}

}  // namespace debossier::fit
