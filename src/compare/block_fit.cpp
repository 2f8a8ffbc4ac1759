#include "compare/block_fit.h"

#include <Eigen/Cholesky>
#include <cmath>
#include <limits>

#include "base/result.h"

namespace debossier::compare {

BlockModel::BlockModel(const std::vector<Block>& blocks, std::vector<ColumnPrior> priors,
                       double degrees_of_freedom)
    : priors_(std::move(priors)), df_(degrees_of_freedom) {
  for (const Block& b : blocks) {
    DEBOSSIER_ASSERT(b.rows.cols() == columns());
    const Eigen::LLT<PoseMatrix> root(b.scale);
    DEBOSSIER_ASSERT(root.info() == Eigen::Success);
    Whitened w;
    w.from_values = root.matrixL().solve(PoseMatrix::Identity());
    w.value = w.from_values * b.value;
    w.rows = w.from_values * b.rows;
    w.used = b.used;
    blocks_.push_back(std::move(w));
  }
  const Eigen::Index n = columns();
  const auto count = static_cast<Eigen::Index>(blocks_.size());
  normals_.resize(n * n, count);
  rights_.resize(n, count);
  for (Eigen::Index j = 0; j < count; ++j) {
    const Whitened& b = blocks_[static_cast<std::size_t>(j)];
    Eigen::Map<Eigen::MatrixXd>(normals_.col(j).data(), n, n).noalias() =
        b.rows.transpose().lazyProduct(b.rows);
    rights_.col(j).noalias() = b.rows.transpose() * b.value;
  }
}

BlockModel BlockModel::With(const BlockColumn& column) const {
  DEBOSSIER_ASSERT(column.size() == blocks_.size());
  BlockModel more = *this;
  const Eigen::Index n = columns();
  const auto count = static_cast<Eigen::Index>(blocks_.size());
  more.priors_.push_back({});
  more.normals_.resize((n + 1) * (n + 1), count);
  more.rights_.conservativeResize(n + 1, Eigen::NoChange);
  for (Eigen::Index j = 0; j < count; ++j) {
    Whitened& b = more.blocks_[static_cast<std::size_t>(j)];
    b.rows.conservativeResize(Eigen::NoChange, n + 1);
    b.rows.col(n) = b.from_values * column[static_cast<std::size_t>(j)];
    Eigen::Map<Eigen::MatrixXd> normal(more.normals_.col(j).data(), n + 1, n + 1);
    normal.topLeftCorner(n, n) = Eigen::Map<const Eigen::MatrixXd>(normals_.col(j).data(), n, n);
    normal.col(n).noalias() = b.rows.transpose() * b.rows.col(n);
    normal.row(n) = normal.col(n).transpose();
    more.rights_(n, j) = b.rows.col(n).dot(b.value);
  }
  return more;
}

void BlockModel::Solve(BlockFit& fit) const {
  // A trace of precision on flat columns too: a column that nothing shows stays at 0.
  constexpr double kTrace = 1e-6;
  const Eigen::VectorXd sum = normals_ * fit.weights.blocks;
  Eigen::MatrixXd normal = Eigen::Map<const Eigen::MatrixXd>(sum.data(), columns(), columns());
  normal.diagonal().array() += fit.weights.precision.array() + kTrace;
  fit.normal.compute(normal);
  fit.right = rights_ * fit.weights.blocks;
  fit.coefficients = fit.normal.solve(fit.right);
}

double BlockModel::Objective(const Eigen::VectorXd& coefficients, FitWeights& weights) const {
  double objective = 0;
  for (std::size_t j = 0; j < blocks_.size(); ++j) {
    const Whitened& b = blocks_[j];
    const double squared = (b.value - b.rows * coefficients).squaredNorm();
    objective += (df_ + b.used) * std::log1p(squared / df_);
    weights.blocks[static_cast<Eigen::Index>(j)] = (df_ + b.used) / (df_ + squared);
  }
  for (Eigen::Index k = 0; k < columns(); ++k) {
    const auto& [deviation, df] = priors_[static_cast<std::size_t>(k)];
    if (deviation <= 0) continue;
    const double squared = coefficients[k] * coefficients[k] / (deviation * deviation);
    objective += (df + 1) * std::log1p(squared / df);
    weights.precision[k] = (df + 1) / (df + squared) / (deviation * deviation);
  }
  return objective;
}

BlockFit BlockModel::Fit() const {
  FitWeights start{Eigen::VectorXd::Ones(static_cast<Eigen::Index>(blocks_.size())),
                   Eigen::VectorXd::Zero(columns())};
  for (Eigen::Index k = 0; k < columns(); ++k) {
    const double deviation = priors_[static_cast<std::size_t>(k)].deviation;
    if (deviation > 0) start.precision[k] = 1 / (deviation * deviation);
  }
  return Fit(start);
}

BlockFit BlockModel::Fit(const FitWeights& start) const {
  constexpr int kMostRounds = 60;
  constexpr double kSettled = 1e-6;  // of the objective, whose differences are squares of z
  BlockFit fit;
  fit.weights = start;
  const Eigen::Index given = start.precision.size();
  fit.weights.precision.conservativeResize(columns());
  if (given < columns()) fit.weights.precision.tail(columns() - given).setZero();
  for (int round = 0; round < kMostRounds; ++round) {
    Solve(fit);
    const double before = fit.objective;
    fit.objective = Objective(fit.coefficients, fit.weights);
    if (round > 0 && std::abs(before - fit.objective) < kSettled) break;
  }
  fit.covariance = fit.normal.solve(Eigen::MatrixXd::Identity(columns(), columns()));
  // Drawn from the model, with 6 degrees of freedom (the test DrawnFromTheModel holds it); none for
  // normal errors.
  const double bend = 0.26 * 6 / df_;
  double values = 0;
  for (const Whitened& b : blocks_) values += b.used;
  const double told =
      static_cast<double>(columns()) - fit.weights.precision.dot(fit.covariance.diagonal());
  fit.inflation = 1 + bend * std::max(0.0, told) / std::max(1.0, values);
  return fit;
}

Amplitude BlockModel::AmplitudeOf(const BlockColumn& column, const BlockFit& fit) const {
  DEBOSSIER_ASSERT(column.size() == blocks_.size());
  const FitWeights& weights = fit.weights;
  const auto values = static_cast<Eigen::Index>(kPoseValues * blocks_.size());
  std::vector<PoseVector> whitened(blocks_.size());
  Eigen::VectorXd shared = Eigen::VectorXd::Zero(columns());
  double seen = 0;
  for (std::size_t j = 0; j < blocks_.size(); ++j) {
    const double weight = weights.blocks[static_cast<Eigen::Index>(j)];
    whitened[j] = blocks_[j].from_values * column[j];
    shared.noalias() += blocks_[j].rows.transpose() * (weight * whitened[j]);
    seen += weight * whitened[j].squaredNorm();
  }
  const Eigen::VectorXd taken = fit.normal.solve(shared);
  Amplitude out;
  out.direction = Eigen::VectorXd::Zero(values + columns());
  double pull = 0;
  for (std::size_t j = 0; j < blocks_.size(); ++j) {
    const double weight = weights.blocks[static_cast<Eigen::Index>(j)];
    const PoseVector left = whitened[j] - blocks_[j].rows * taken;
    out.direction.segment<kPoseValues>(static_cast<Eigen::Index>(kPoseValues * j)) =
        std::sqrt(weight) * left;
    pull += weight * left.dot(blocks_[j].value);
  }
  out.direction.tail(columns()) = -weights.precision.cwiseSqrt().cwiseProduct(taken);
  const double information = out.direction.squaredNorm();
  if (!(information > 1e-9 * seen)) {
    out.u = std::numeric_limits<double>::infinity();
    out.direction.setZero();
    return out;
  }
  out.value = pull / information;
  out.u = 1 / std::sqrt(information);
  out.direction *= out.u;
  return out;
}

BlockModel::Deleted BlockModel::Without(std::size_t j, const BlockFit& fit) const {
  const auto at = static_cast<Eigen::Index>(j);
  const double weight = fit.weights.blocks[at];
  Eigen::MatrixXd rest = fit.normal.reconstructedMatrix();
  rest -= weight * Eigen::Map<const Eigen::MatrixXd>(normals_.col(at).data(), columns(), columns());
  const Eigen::LLT<Eigen::MatrixXd> normal(rest);
  const Whitened& b = blocks_[j];
  const PoseVector residual = b.value - b.rows * normal.solve(fit.right - weight * rights_.col(at));
  const BlockRows half = normal.matrixL().solve(b.rows.transpose().eval()).transpose();
  const PoseMatrix scale = PoseMatrix::Identity() + half.lazyProduct(half.transpose());
  const PoseMatrix to_values =
      b.from_values.triangularView<Eigen::Lower>().solve(PoseMatrix::Identity());
  return {to_values * residual, to_values * scale * to_values.transpose()};
}

}  // namespace debossier::compare
