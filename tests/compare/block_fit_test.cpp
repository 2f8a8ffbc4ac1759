#include "compare/block_fit.h"

#include <gtest/gtest.h>

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <cmath>
#include <random>

namespace debossier::compare {
namespace {

/// Blocks of random values, scales and rows.
std::vector<Block> RandomBlocks(int count, Eigen::Index columns, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<> normal;
  std::vector<Block> blocks;
  for (int j = 0; j < count; ++j) {
    Block b;
    PoseMatrix root;
    for (Eigen::Index k = 0; k < root.size(); ++k) root.data()[k] = 0.3 * normal(random);
    b.scale = root * root.transpose() + PoseMatrix::Identity();
    for (int k = 0; k < kPoseValues; ++k) b.value[k] = normal(random);
    b.rows.resize(kPoseValues, columns);
    for (Eigen::Index k = 0; k < b.rows.size(); ++k) b.rows.data()[k] = normal(random);
    blocks.push_back(b);
  }
  return blocks;
}

constexpr double kNormal = 1e9;  // so many degrees of freedom make a t normal

/// All blocks in one system, solved densely: generalized least squares with effects as ridge terms
/// (Henderson's mixed-model equations, Biometrics 31, 1975).
struct Dense {
  Eigen::MatrixXd covariance;
  Eigen::VectorXd coefficients;
};
Dense SolveDensely(const std::vector<Block>& blocks, const std::vector<ColumnPrior>& priors) {
  const auto rows = static_cast<Eigen::Index>(kPoseValues * blocks.size());
  const auto columns = static_cast<Eigen::Index>(priors.size());
  Eigen::MatrixXd design(rows, columns);
  Eigen::VectorXd values(rows);
  Eigen::MatrixXd scale = Eigen::MatrixXd::Zero(rows, rows);
  for (std::size_t j = 0; j < blocks.size(); ++j) {
    const auto at = static_cast<Eigen::Index>(kPoseValues * j);
    design.middleRows(at, kPoseValues) = blocks[j].rows;
    values.segment(at, kPoseValues) = blocks[j].value;
    scale.block(at, at, kPoseValues, kPoseValues) = blocks[j].scale;
  }
  Eigen::MatrixXd normal = design.transpose() * scale.inverse() * design;
  for (Eigen::Index k = 0; k < columns; ++k) {
    const double deviation = priors[static_cast<std::size_t>(k)].deviation;
    if (deviation > 0) normal(k, k) += 1 / (deviation * deviation);
  }
  Dense dense;
  dense.covariance = normal.inverse();
  dense.coefficients = dense.covariance * design.transpose() * scale.inverse() * values;
  return dense;
}

TEST(BlockFit, IsGeneralizedLeastSquaresWhereErrorsAreNormal) {
  const auto blocks = RandomBlocks(8, 4, 1);
  const std::vector<ColumnPrior> priors = {{0, 0}, {0, 0}, {0.3, kNormal}, {0.1, kNormal}};
  const BlockFit fit = BlockModel(blocks, priors, kNormal).Fit();
  const Dense dense = SolveDensely(blocks, priors);
  EXPECT_LT((fit.coefficients - dense.coefficients).norm(), 1e-5);
  EXPECT_LT((fit.covariance - dense.covariance).norm(), 1e-5);
}

// z^2 of a generalized least-squares amplitude is the difference of the two objectives.
TEST(BlockFit, DifferenceOfObjectivesIsTheSquareOfZ) {
  const auto blocks = RandomBlocks(8, 3, 2);
  const std::vector<ColumnPrior> priors = {{0, 0}, {0, 0}, {0.2, kNormal}};
  const BlockModel model(blocks, priors, kNormal);
  BlockColumn column(8, PoseVector::Zero());
  for (std::size_t j = 3; j < 8; ++j) column[j][0] = 1;
  const BlockFit without = model.Fit();
  const BlockFit with = model.With(column).Fit();
  const Amplitude amplitude = model.AmplitudeOf(column, without);
  EXPECT_NEAR(amplitude.value, with.coefficients[3], 1e-5);
  EXPECT_NEAR(amplitude.u, std::sqrt(with.covariance(3, 3)), 1e-5);
  EXPECT_NEAR(std::pow(amplitude.value / amplitude.u, 2), without.objective - with.objective, 1e-4);
}

TEST(BlockFit, DirectionsGiveTheCorrelationOfAmplitudes) {
  const auto blocks = RandomBlocks(8, 3, 3);
  const std::vector<ColumnPrior> priors = {{0, 0}, {0, 0}, {0.2, kNormal}};
  const BlockModel model(blocks, priors, kNormal);
  BlockColumn first(8, PoseVector::Zero());
  BlockColumn second = first;
  for (std::size_t j = 0; j < 8; ++j) {
    first[j][0] = j > 2;
    second[j][0] = j > 4;
  }
  const BlockFit fit = model.Fit();
  const Amplitude a = model.AmplitudeOf(first, fit);
  const Amplitude b = model.AmplitudeOf(second, fit);
  // Both with the other in the model: the covariance of a joint fit has minus this correlation.
  const auto joint = model.With(first).With(second).Fit().covariance;
  const double joint_correlation = joint(3, 4) / std::sqrt(joint(3, 3) * joint(4, 4));
  EXPECT_NEAR(a.direction.dot(b.direction), -joint_correlation, 1e-5);
  EXPECT_NEAR(a.direction.norm(), 1, 1e-6);
}

TEST(BlockFit, DeletedResidualIsThatOfAFitWithoutTheBlock) {
  auto blocks = RandomBlocks(8, 3, 4);
  const std::vector<ColumnPrior> priors = {{0, 0}, {0, 0}, {0.2, kNormal}};
  const BlockModel model(blocks, priors, kNormal);
  const auto deleted = model.Without(5, model.Fit());
  const Block gone = blocks[5];
  blocks.erase(blocks.begin() + 5);
  const Dense rest = SolveDensely(blocks, priors);
  EXPECT_LT((deleted.residual - (gone.value - gone.rows * rest.coefficients)).norm(), 1e-5);
  const PoseMatrix scale = gone.scale + gone.rows * rest.covariance * gone.rows.transpose();
  EXPECT_LT((deleted.scale - scale).norm(), 1e-5);
}

TEST(BlockFit, OneOddBlockDoesNotCarryTheFit) {
  auto blocks = RandomBlocks(12, 1, 5);
  for (Block& b : blocks) {
    b.rows.setZero();
    b.rows(0, 0) = 1;
    b.value.setZero();
    b.scale = PoseMatrix::Identity();
  }
  blocks[7].value = PoseVector::Constant(1000);
  const std::vector<ColumnPrior> flat = {{0, 0}};
  EXPECT_NEAR(BlockModel(blocks, flat, 6).Fit().coefficients[0], 0, 0.01);
  // Degrees of freedom enough to be normal even at this distance.
  EXPECT_NEAR(BlockModel(blocks, flat, 1e12).Fit().coefficients[0], 1000.0 / 12, 0.01);
}

// Stationary points of the objective, by differences.
TEST(BlockFit, EndsWhereTheObjectiveIsLeast) {
  const auto blocks = RandomBlocks(10, 3, 6);
  const std::vector<ColumnPrior> priors = {{0, 0}, {0.3, 5}, {0.2, 9}};
  const BlockFit fit = BlockModel(blocks, priors, 6).Fit();
  const auto objective = [&](const Eigen::VectorXd& b) {
    double rho = 0;
    for (const Block& block : blocks) {
      const PoseVector left = block.value - block.rows * b;
      rho += (6 + kPoseValues) * std::log1p(left.dot(block.scale.inverse() * left) / 6);
    }
    for (Eigen::Index k = 1; k < 3; ++k) {
      const auto& prior = priors[static_cast<std::size_t>(k)];
      rho += (prior.degrees_of_freedom + 1) *
             std::log1p(std::pow(b[k] / prior.deviation, 2) / prior.degrees_of_freedom);
    }
    return rho;
  };
  EXPECT_NEAR(fit.objective, objective(fit.coefficients), 1e-5);
  for (Eigen::Index k = 0; k < 3; ++k) {
    for (const double step : {-0.01, 0.01}) {
      Eigen::VectorXd b = fit.coefficients;
      b[k] += step;
      EXPECT_GT(objective(b), fit.objective);
    }
  }
}

}  // namespace
}  // namespace debossier::compare
