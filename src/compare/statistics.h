// The statistics of comparison: predictive distributions, shrunk variances, multiple testing.
//
// Sources: predictive t, e.g. Geisser 1993; shrinkage of variances in the form of Smyth 2004; Holm
// 1979. Distribution functions come from Boost.Math.
// Not for: anything with pixels.
#pragma once

#include <Eigen/Core>
#include <vector>

namespace debossier::compare {

/// Two-sided p-value of Student's t with `df` degrees of freedom.
double StudentTwoSidedP(double t, double df);
/// Upper-tail p-value of Student's t.
double StudentUpperP(double t, double df);
/// The |t| whose two-sided p-value is `p`.
double StudentQuantile(double p, double df);
/// Upper-tail p-value of Fisher's F.
double FisherUpperP(double f, double df1, double df2);

/// Smyth's posterior variance: (d0 s0^2 + d s^2) / (d0 + d), with d0 + d degrees of freedom.
struct ShrunkVariance {
  double variance = 0;
  double df = 0;
};
ShrunkVariance Shrink(double prior_variance, double prior_df, double variance, double df);

/// Smyth's estimate of the prior (d0, s0^2) from sample variances with `df` degrees of freedom
/// each; d0 is infinity where the variances vary no more than by chance.
ShrunkVariance EstimatePrior(const std::vector<double>& variances, double df);

/// One p-value from several that may depend on each other: the Cauchy combination test (Liu and Xie
/// 2020, J. Am. Stat. Assoc. 115, 393), equal weights.
double CauchyCombined(const std::vector<double>& p);

/// Holm's adjusted p-values, in the order given.
std::vector<double> HolmAdjusted(const std::vector<double>& p);

/// The same where hypotheses have unequal weights (Holm 1979, section 3; positive, any sum): one
/// with twice the weight is rejected at twice the level.
std::vector<double> HolmAdjusted(const std::vector<double>& p, const std::vector<double>& weights);

/// Upper-tail p-value of the standard normal, and the value that has it.
double NormalUpperP(double z);
double NormalUpperQuantile(double p);

/// Standard normal numbers, `rows` by `columns`; the same for the same size, everywhere.
Eigen::MatrixXd NormalDraws(Eigen::Index rows, Eigen::Index columns);

/// The standard normal score of a two-sided p-value: 0 for 1, 1.96 for 0.05.
double NormalScore(double p);

}  // namespace debossier::compare
