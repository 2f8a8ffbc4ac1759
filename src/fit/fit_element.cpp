#include "fit/fit_element.h"

#include "base/robust.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <array>
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
    if (!fit.reference.empty() && std::isnan(fit.reference.displacement[i])) {
      fit.readings[i] = {EdgeReading::Kind::kUnreadable, 0};
      continue;
    }
    all += e.length;
    switch (fit.readings[i].kind) {
      case EdgeReading::Kind::kEdge:
        edges += e.length;
        if (!fit.reference.empty()) fit.readings[i].displacement -= fit.reference.displacement[i];
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
      case EdgeReading::Kind::kUnreadable:
        break;
    }
  }
  fit.edges_found = all > 0 ? edges / all : 0;
  fit.missing = all > 0 ? missing / all : 0;
  fit.extra = all > 0 ? extra / all : 0;
}

/// Of the edges' displacements; at no less than what a reading's own steps leave.
RobustSpread EdgeSpread(const ElementFit& fit) {
  constexpr double kLeastSigma = 0.0015;  // cap heights
  std::vector<double> values;
  for (const auto& r : fit.readings) {
    if (r.kind == EdgeReading::Kind::kEdge) values.push_back(r.displacement);
  }
  RobustSpread spread = SpreadOf(std::move(values));
  spread.sigma = std::max(spread.sigma, kLeastSigma);
  return spread;
}

/// Missing foil says little, since it wears off: inward residuals get Tukey's biweight, which lets
/// go of them. Foil beyond the outline cannot come from wear: outward ones get Huber's, which does
/// not.
double RobustWeight(double r) {
  constexpr double kHuber = 2;
  return r > 0 ? std::max(BiweightOf(r), std::min(1.0, kHuber / r)) : BiweightOf(r);
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
    n.weight[i] = e.length * RobustWeight(fit.readings[i].displacement / sigma);
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

/// Jackknife by moving blocks (Künsch, Ann. Statist. 17, 1989): what the fit would be without each
/// tenth of the outline in turn. Worn foil takes away whole stretches, or draws their edge inward,
/// and no local scatter shows how far the rest leans on them.
ElementMatrix Jackknife(const ElementFit& fit, const Normals& n, double information,
                        const ElementVector& prior) {
  constexpr std::size_t kHalves = 20;  // a block is two of them, so that blocks overlap
  std::array<ElementMatrix, kHalves> normal;
  std::array<ElementVector, kHalves> pull;
  normal.fill(ElementMatrix::Zero());
  pull.fill(ElementVector::Zero());
  double all = 0;
  for (const ModelEdge& e : fit.edges) all += e.length;
  double gone = 0;
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    const auto half = std::min(kHalves - 1, static_cast<std::size_t>(kHalves * gone / all));
    gone += fit.edges[i].length;
    if (n.weight[i] <= 0) continue;
    const ElementVector weighted = information * n.weight[i] * n.rows[i];
    normal[half] += weighted * n.rows[i].transpose();
    pull[half] += weighted * fit.readings[i].displacement;
  }
  ElementMatrix whole = prior.asDiagonal();
  ElementVector right = -prior.cwiseProduct(fit.value);
  for (std::size_t k = 0; k < kHalves; ++k) {
    whole += normal[k];
    right += pull[k];
  }
  const ElementVector at = whole.ldlt().solve(right);
  ElementMatrix sum = ElementMatrix::Zero();
  for (std::size_t k = 0; k < kHalves; ++k) {
    const std::size_t next = (k + 1) % kHalves;
    const ElementMatrix rest = whole - normal[k] - normal[next];
    const ElementVector change = rest.ldlt().solve(right - pull[k] - pull[next]) - at;
    if (change.allFinite()) sum += change * change.transpose();
  }
  // Each stretch is left out twice.
  constexpr double kBlocks = kHalves / 2;
  return sum * (0.5 * (kBlocks - 1) / kBlocks);
}

/// ElementFit::leverage. `influence`: the unknowns' change by a weighted displacement.
ElementMatrix Leverage(const ElementFit& fit, const Normals& n, const ElementMatrix& influence) {
  ElementMatrix sum = ElementMatrix::Zero();
  ElementVector pull = ElementVector::Zero();
  const auto close = [&] {
    const ElementVector change = influence * pull;
    sum += change * change.transpose();
    pull.setZero();
  };
  double length = 0;
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    const bool other = i > 0 && fit.edges[i].contour_idx != fit.edges[i - 1].contour_idx;
    if (other || length > kChipLength) {
      close();
      length = 0;
    }
    pull += n.weight[i] * n.rows[i];
    length += fit.edges[i].length;
  }
  close();
  return sum;
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
  const ElementMatrix jackknife = Jackknife(fit, n, information, prior);
  fit.leverage = Leverage(fit, n, information * inverse);
  ElementVector by_blur = ElementVector::Zero();
  for (std::size_t i = 0; i < fit.reference.by_blur.size(); ++i) {
    by_blur += information * n.weight[i] * fit.reference.by_blur[i] * n.rows[i];
  }
  by_blur = (inverse * by_blur).eval();
  // The sandwich can come out too small by chance; half the model's own form is one floor, what
  // the fit would be without a stretch of outline the other.
  fit.covariance = 0.5 * (sandwich + sandwich.transpose());
  for (int k = 0; k < kElementUnknowns; ++k) {
    const double floor = std::max(0.5 * inverse(k, k), jackknife(k, k));
    if (fit.covariance(k, k) < floor) {
      const double grow = std::sqrt(floor / std::max(1e-18, fit.covariance(k, k)));
      fit.covariance.row(k) *= grow;
      fit.covariance.col(k) *= grow;
    }
  }
  fit.covariance += by_blur * by_blur.transpose();
}

/// Length of outline whose edge lies where the fit has it, to `tolerance`.
double Agreeing(const ElementFit& fit, double tolerance) {
  double length = 0;
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    const EdgeReading& r = fit.readings[i];
    const bool agrees = r.kind == EdgeReading::Kind::kEdge && std::abs(r.displacement) < tolerance;
    if (agrees) length += fit.edges[i].length;
  }
  return length;
}

/// The weighted least-squares step from the readings; NaN where there is none.
ElementVector StepFrom(const ElementFit& fit, const Normals& n, double sigma,
                       const ElementOptions& options) {
  const ElementVector prior = PriorWeights(options);
  const double information = 1 / (sigma * sigma * options.correlation);
  ElementMatrix normal = ElementMatrix::Zero();
  ElementVector right = ElementVector::Zero();
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    if (n.weight[i] <= 0) continue;
    const ElementVector weighted = information * n.weight[i] * n.rows[i];
    normal.noalias() += weighted * n.rows[i].transpose();
    right += fit.readings[i].displacement * weighted;
  }
  normal.diagonal() += prior;
  right -= prior.cwiseProduct(fit.value);
  return normal.ldlt().solve(right);
}

/// Whether weight for the edges far off would move the fit: where not, they lie about it by chance
/// or by wear and no other place is to be sought.
bool FarEdgesPull(const ElementFit& fit, const ElementOptions& options) {
  constexpr double kMoves = 0.004;  // cap heights
  const auto [middle, sigma] = EdgeSpread(fit);
  const Normals n = Design(fit, std::max({sigma, std::abs(middle), 0.5 * options.window}));
  const ElementVector step = StepFrom(fit, n, sigma, options);
  return !(step.cwiseAbs().maxCoeff() < kMoves);
}

/// The readings after a step so small that the edges need not be read again.
void FollowStep(const Normals& n, const ElementVector& step, ElementFit& fit) {
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    EdgeReading& r = fit.readings[i];
    if (r.kind == EdgeReading::Kind::kEdge) r.displacement -= n.rows[i].dot(step);
  }
}

/// Iterates from `fit.value` and reads the edges where it ends; false where too few are found.
// Shares of an element's outline with an edge: fewer end the fit, or leave it not found.
constexpr double kLeastToGoOn = 0.2;
constexpr double kLeastToBeFound = 0.35;

/// `listen`: the first rounds give weight to edges far from the middle of all too.
bool Iterate(const EdgeReader& reader, const ElementOptions& options, bool listen,
             ElementFit& fit) {
  for (int round = 0; round < 8; ++round) {
    ReadEdges(reader, options, fit);
    if (fit.edges_found < kLeastToGoOn) return false;
    const auto [middle, sigma] = EdgeSpread(fit);
    // A letter that moved along its own strokes shows most edges in place and the telling ones far
    // off: the first rounds listen to all of them, the last only to those that agree.
    const double wide = listen ? options.window * std::max(0.0, 0.5 - 0.125 * round) : 0.0;
    const Normals n = Design(fit, std::max({sigma, std::abs(middle), wide}));
    const ElementVector step = StepFrom(fit, n, sigma, options);
    if (!step.allFinite()) return false;
    fit.value += step;
    fit.value[kLogScaleX] = std::clamp(fit.value[kLogScaleX], -0.5, 0.5);
    fit.value[kLogScaleY] = std::clamp(fit.value[kLogScaleY], -0.5, 0.5);
    if (wide < sigma && step.cwiseAbs().maxCoeff() < options.settled_step) {
      FollowStep(n, step, fit);
      return true;
    }
  }
  ReadEdges(reader, options, fit);
  return true;
}

}  // namespace

float OwnLevel(const EdgeReader& reader, const SampledOutline& element,
               const ElementVector& moved) {
  constexpr double kDepth = 0.08;  // cap heights
  constexpr double kShown = 0.7;   // quantile: foil may be gone from part of it
  constexpr double kLeast = 0.2;   // below it noise has edges too
  ElementFit fit;
  fit.centre = element.centre;
  fit.value = moved;
  const outline::Affine move = MoveOf(fit);
  const double gain = reader.placement().gain + moved[kOwnGain];
  std::vector<double> foil;
  for (const ModelEdge& e : element.edges) {
    foil.push_back(reader.FoilWithin(move * e.point, e.normal, gain, kDepth));
  }
  return static_cast<float>(std::clamp(0.5 * Quantile(std::move(foil), kShown), kLeast, 0.5));
}

ElementFit FitElement(const EdgeReader& of_photo, const SampledOutline& element,
                      const ElementVector& start, const ElementOptions& given,
                      const ReferenceReading& reference) {
  ElementFit fit;
  ElementOptions options = given;
  const EdgeReader reader = given.own_level ? EdgeReader(of_photo.alpha(), of_photo.placement(),
                                                         OwnLevel(of_photo, element, start))
                                            : of_photo;
  // Blur and JPEG blocks tie the errors of a few pixels together, whatever the cap height.
  options.correlation = std::max(given.correlation, 4 / std::max(1.0, given.map_px_per_cap));
  fit.edges = element.edges;
  fit.centre = element.centre;
  fit.value = start;
  fit.reference = reference;
  // Foil worn off one arm of a letter looks like a smaller letter to a fit that listens to all: the
  // place on which more of the outline agrees to a hair is the letter's.
  const double hair = std::max(0.012, 1.2 / std::max(1.0, options.map_px_per_cap));
  ElementFit moved = fit;
  bool done = Iterate(reader, options, false, fit);
  if (!options.settled && !(done && !FarEdgesPull(fit, options))) {
    const bool moved_done = Iterate(reader, options, true, moved);
    if (moved_done && (!done || Agreeing(moved, hair) > Agreeing(fit, hair))) {
      fit = std::move(moved);
      done = true;
    }
  }
  if (!done) return fit;
  const auto [middle, sigma] = EdgeSpread(fit);
  fit.residual = sigma;
  FillCovariance(options, sigma, fit);
  fit.found = fit.edges_found >= kLeastToBeFound;
  return fit;
}

}  // namespace debossier::fit
