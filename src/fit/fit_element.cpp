#include "fit/fit_element.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>

namespace debossier::fit {

Point MovePoint(const ElementFit& fit, const Point& reference) { return MoveOf(fit) * reference; }

outline::Affine MoveOf(const ElementFit& fit) {
  outline::Affine map;
  const double sx = std::exp(fit.value[kLogScaleX]);
  const double sy = std::exp(fit.value[kLogScaleY]);
  map.linear << sx, fit.value[kSlant], 0, sy;
  map.offset = fit.centre + Point(fit.value[kShiftX], fit.value[kShiftY]) - map.linear * fit.centre;
  return map;
}

Eigen::Matrix<double, 2, kElementUnknowns> MoveJacobian(const ElementFit& fit,
                                                        const Point& reference) {
  const Point d = reference - fit.centre;
  Eigen::Matrix<double, 2, kElementUnknowns> j;
  j.setZero();
  j(0, kShiftX) = 1;
  j(1, kShiftY) = 1;
  j(0, kLogScaleX) = d.x() * std::exp(fit.value[kLogScaleX]);
  j(1, kLogScaleY) = d.y() * std::exp(fit.value[kLogScaleY]);
  j(0, kSlant) = d.y();
  return j;
}

namespace {

double Median(std::vector<double> v) {
  if (v.empty()) return 0;
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

struct Normals {
  std::vector<ElementVector> rows;  ///< Design row an edge.
  std::vector<double> weight;       ///< Length times biweight; 0 where unused.
};

/// Reads every edge at its moved place.
void ReadEdges(const EdgeReader& reader, const ElementOptions& options, ElementFit& fit) {
  const outline::Affine move = MoveOf(fit);
  const double gain = reader.placement().gain + fit.value[kOwnGain];
  // Normals turn with the inverse transpose of the map.
  const Eigen::Matrix2d normal_map = move.linear.inverse().transpose();
  fit.readings.resize(fit.edges.size());
  double all = 0;
  double edges = 0;
  double missing = 0;
  double extra = 0;
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    const ModelEdge& e = fit.edges[i];
    const Point normal = (normal_map * e.normal).normalized();
    fit.readings[i] = reader.Read(move * e.point, normal, gain, options.window);
    all += e.length;
    switch (fit.readings[i].kind) {
      case EdgeReading::Kind::kEdge:
        edges += e.length;
        break;
      case EdgeReading::Kind::kMissing:
        missing += e.length;
        break;
      case EdgeReading::Kind::kExtra:
        extra += e.length;
        break;
      case EdgeReading::Kind::kOutside:
        missing += e.length;
        break;
    }
  }
  fit.edges_found = all > 0 ? edges / all : 0;
  fit.missing = all > 0 ? missing / all : 0;
  fit.extra = all > 0 ? extra / all : 0;
}

double RobustSigma(const ElementFit& fit, double* middle) {
  std::vector<double> values;
  for (const auto& r : fit.readings) {
    if (r.kind == EdgeReading::Kind::kEdge) values.push_back(r.displacement);
  }
  *middle = Median(values);
  for (double& v : values) v = std::abs(v - *middle);
  return std::max(1.4826 * Median(values), 0.0015);
}

Normals Design(const ElementFit& fit, double sigma) {
  Normals n;
  n.rows.resize(fit.edges.size());
  n.weight.assign(fit.edges.size(), 0.0);
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    const ModelEdge& e = fit.edges[i];
    const Point d = e.point - fit.centre;
    n.rows[i] << e.normal.x(), e.normal.y(), e.normal.x() * d.x(), e.normal.y() * d.y(),
        e.normal.x() * d.y(), 1;
    if (fit.readings[i].kind != EdgeReading::Kind::kEdge) continue;
    const double u = fit.readings[i].displacement / (4.685 * sigma);
    if (std::abs(u) < 1) n.weight[i] = e.length * (1 - u * u) * (1 - u * u);
  }
  return n;
}

ElementVector PriorWeights(const ElementOptions& options) {
  ElementVector prior;
  const auto weight = [](double sd) { return 1 / (sd * sd); };
  prior << 1e-4, 1e-4, weight(options.scale_sd), weight(options.scale_sd), weight(options.slant_sd),
      weight(options.gain_sd);
  return prior;
}

/// Sum over pairs of edges of one contour, weighted by their nearness along it.
ElementMatrix PairedScores(const ElementFit& fit, const Normals& n, double information,
                           double correlation) {
  ElementMatrix meat = ElementMatrix::Zero();
  std::vector<ElementVector> score(fit.edges.size(), ElementVector::Zero());
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    if (n.weight[i] > 0) {
      score[i] = n.rows[i] * (n.weight[i] * information * fit.readings[i].displacement);
    }
  }
  const double reach = 2 * correlation;
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    if (n.weight[i] <= 0) continue;
    meat += score[i] * score[i].transpose();
    ElementVector near = ElementVector::Zero();
    double apart = 0;
    for (std::size_t j = i + 1; j < fit.edges.size(); ++j) {
      if (fit.edges[j].contour_idx != fit.edges[i].contour_idx) break;
      apart += fit.edges[j].length;
      if (apart >= reach) break;
      near += (1 - apart / reach) * score[j];
    }
    const ElementMatrix cross = score[i] * near.transpose();
    meat += cross + cross.transpose();
  }
  return meat;
}

void FillCovariance(const ElementOptions& options, double sigma, ElementFit& fit) {
  const Normals n = Design(fit, sigma);
  const double information = 1 / (sigma * sigma * options.correlation);
  ElementMatrix normal = ElementMatrix::Zero();
  double length = 0;
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    normal += information * n.weight[i] * n.rows[i] * n.rows[i].transpose();
    length += n.weight[i];
  }
  const ElementVector prior = PriorWeights(options);
  normal.diagonal() += prior;
  const ElementMatrix inverse = normal.inverse();
  ElementMatrix meat = PairedScores(fit, n, information, options.correlation);
  meat.diagonal() += prior;
  // Few independent stretches of outline: the residuals understate the error.
  const double independent = length / options.correlation;
  const double inflate = independent / std::max(1.0, independent - kElementUnknowns);
  const ElementMatrix sandwich = inflate * inverse * meat * inverse;
  // The sandwich can come out too small by chance; half the model's own form is the floor.
  fit.covariance = 0.5 * (sandwich + sandwich.transpose());
  for (int k = 0; k < kElementUnknowns; ++k) {
    const double floor = 0.5 * inverse(k, k);
    if (fit.covariance(k, k) < floor) {
      const double grow = std::sqrt(floor / std::max(1e-18, fit.covariance(k, k)));
      fit.covariance.row(k) *= grow;
      fit.covariance.col(k) *= grow;
    }
  }
}

}  // namespace

ElementFit FitElement(const EdgeReader& reader, const outline::Outline& element,
                      const ElementVector& start, const ElementOptions& given) {
  ElementFit fit;
  ElementOptions options = given;
  // Blur and JPEG blocks tie the errors of a few pixels together, whatever the cap height.
  options.correlation = std::max(given.correlation, 4 / std::max(1.0, given.map_px_per_cap));
  fit.edges = ModelEdges(element, options.step);
  fit.centre = outline::Bounds(element).centre();
  fit.value = start;
  const ElementVector prior = PriorWeights(options);
  constexpr double kSettledStep = 1e-4;  // cap heights: far below any photo's uncertainty
  double sigma = 0;
  for (int round = 0; round < 8; ++round) {
    ReadEdges(reader, options, fit);
    if (fit.edges_found < 0.2) return fit;
    double middle = 0;
    sigma = RobustSigma(fit, &middle);
    // A letter that moved along its own strokes shows most edges in place and the telling ones far
    // off: the first rounds listen to all of them, the last only to those that agree.
    const double listen = options.settled ? 0.0 : options.window * std::max(0.0, 0.5 - 0.125 * round);
    const Normals n = Design(fit, std::max({sigma, std::abs(middle), listen}));
    const double information = 1 / (sigma * sigma * options.correlation);
    ElementMatrix normal = ElementMatrix::Zero();
    ElementVector right = ElementVector::Zero();
    for (std::size_t i = 0; i < fit.edges.size(); ++i) {
      if (n.weight[i] <= 0) continue;
      const double w = information * n.weight[i];
      normal.noalias() += w * n.rows[i] * n.rows[i].transpose();
      right += w * fit.readings[i].displacement * n.rows[i];
    }
    normal.diagonal() += prior;
    right -= prior.cwiseProduct(fit.value);
    const ElementVector step = normal.ldlt().solve(right);
    if (!step.allFinite()) return fit;
    fit.value += step;
    fit.value[kLogScaleX] = std::clamp(fit.value[kLogScaleX], -0.5, 0.5);
    fit.value[kLogScaleY] = std::clamp(fit.value[kLogScaleY], -0.5, 0.5);
    if (listen < sigma && step.cwiseAbs().maxCoeff() < kSettledStep) break;
  }
  ReadEdges(reader, options, fit);
  double middle = 0;
  sigma = RobustSigma(fit, &middle);
  fit.residual = sigma;
  FillCovariance(options, sigma, fit);
  fit.found = fit.edges_found >= 0.35;
  return fit;
}

}  // namespace debossier::fit
