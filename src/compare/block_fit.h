// Linear model of values that come in blocks, each block under a multivariate t.
//
// y_j = A_j b + e_j for every block j (an element's values). e_j is a multivariate t with a scale
// matrix S_j of its own and common degrees of freedom nu: where a letter is misfitted, all its
// values are odd together. Coefficients b are either flat (estimated freely) or effects, drawn
// around 0 from a t with scale tau and mu degrees of freedom, as many as tau was learned on. The
// fit minimises
//   rho(b) = sum_j (nu + n_j) log(1 + D_j^2 / nu) + sum_k (mu + 1) log(1 + b_k^2 / (mu tau_k^2)),
//   D_j^2 = (y_j - A_j b)' S_j^-1 (y_j - A_j b),
// minus twice the log-likelihood up to a constant, by iterated weights (nu + n_j) / (nu + D_j^2)
// and their like for effects (Lange, Little and Taylor, J. Am. Stat. Assoc. 84, 1989). The square
// root of a difference of two objectives is a normal z. DEVELOPERS.md has the derivation.
// Units are the caller's. Not for: choosing columns (pose_design.h) or judging (hypotheses.h).
#pragma once

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <vector>

#include "measure/pose.h"

namespace debossier::compare {

using measure::kPoseValues;
using measure::PoseMatrix;
using measure::PoseVector;
/// Rows of one block in some columns.
using BlockRows = Eigen::Matrix<double, kPoseValues, Eigen::Dynamic>;
/// One column over all blocks.
using BlockColumn = std::vector<PoseVector>;

struct Block {
  PoseVector value = PoseVector::Zero();
  PoseMatrix scale = PoseMatrix::Identity();  ///< S_j, positive definite.
  int used = kPoseValues;                     ///< n_j: values that were measured.
  BlockRows rows;                             ///< A_j.
};

/// Prior of one column's coefficient.
struct ColumnPrior {
  double deviation = 0;           ///< tau; 0: flat.
  double degrees_of_freedom = 0;  ///< mu.
};

/// What a fit gives to each block and each effect.
struct FitWeights {
  Eigen::VectorXd blocks;
  Eigen::VectorXd precision;  ///< By column; 0 for flat ones.
};

struct BlockFit {
  Eigen::VectorXd coefficients;
  Eigen::MatrixXd covariance;  ///< Of the coefficients, at the weights.
  FitWeights weights;
  Eigen::LLT<Eigen::MatrixXd> normal;  ///< Factor of the normal equations.
  Eigen::VectorXd right;               ///< Their right side.
  /// By how much a root of a difference of objectives is too large, since few blocks bend their
  /// weights to many coefficients: 1 + kBend * coefficients / values, where an effect counts by
  /// what of it the photo tells.
  double inflation = 1;
  double objective = 0;  ///< rho.
};

/// A column's amplitude at given weights.
struct Amplitude {
  double value = 0;
  double u = 0;  ///< Infinite where the model takes the column up whole.
  /// What of the weighted column nothing else in the model explains, in the frame in which all
  /// errors and effects are standard normal; of unit length. The dot product of two is the
  /// correlation of the amplitudes.
  Eigen::VectorXd direction;
};

class BlockModel {
 public:
  /// @pre every block has a column for each prior.
  BlockModel(const std::vector<Block>& blocks, std::vector<ColumnPrior> priors,
             double degrees_of_freedom);

  /// The same with a further flat column, the last.
  BlockModel With(const BlockColumn& column) const;

  /// Fits from weights of 1.
  BlockFit Fit() const;
  /// Fits from the weights of a fit of this model, or of one with more or fewer flat columns.
  BlockFit Fit(const FitWeights& start) const;

  /// At the weights of a fit of this model, without iterating.
  Amplitude AmplitudeOf(const BlockColumn& column, const BlockFit& fit) const;

  /// What is left of block `j` when the others alone say what the whole does, and its scale matrix
  /// (the deleted residual).
  struct Deleted {
    PoseVector residual = PoseVector::Zero();
    PoseMatrix scale = PoseMatrix::Identity();
  };
  Deleted Without(std::size_t j, const BlockFit& fit) const;

  Eigen::Index columns() const { return static_cast<Eigen::Index>(priors_.size()); }

 private:
  /// A block in the frame in which its scale matrix is the unit matrix.
  struct Whitened {
    PoseMatrix from_values;  ///< Inverse of the Cholesky factor of S_j.
    PoseVector value;
    BlockRows rows;
    int used = kPoseValues;
  };
  /// Factors the normal equations at the fit's weights and solves them.
  void Solve(BlockFit& fit) const;
  /// rho at the coefficients; fills the weights that belong to them.
  double Objective(const Eigen::VectorXd& coefficients, FitWeights& weights) const;

  std::vector<Whitened> blocks_;
  /// A_j' S_j^-1 A_j and A_j' S_j^-1 y_j of each block, a column each: the normal equations at any
  /// weights are one product.
  Eigen::MatrixXd normals_, rights_;
  std::vector<ColumnPrior> priors_;
  double df_;
};

}  // namespace debossier::compare
