// The statistics of comparison: tails of distributions, shrunk variances, drawn numbers.
//
// Sources: predictive t, e.g. Geisser 1993; shrinkage of variances in the form of Smyth 2004.
// Distribution functions come from Boost.Math. Not for: anything with pixels.
#pragma once

#include <Eigen/Core>

namespace debossier::compare {

/// Two-sided p-value of Student's t with `df` degrees of freedom.
double StudentTwoSidedP(double t, double df);

/// The |t| whose two-sided p-value is `p`.
double StudentQuantile(double p, double df);

/// Smyth's posterior variance: (d0 s0^2 + d s^2) / (d0 + d), with d0 + d degrees of freedom.
struct ShrunkVariance {
  double variance = 0;
  double df = 0;
};
ShrunkVariance Shrink(double prior_variance, double prior_df, double variance, double df);

/// Upper-tail p-value of the standard normal, and the value that has it.
double NormalUpperP(double z);
double NormalUpperQuantile(double p);

/// Interval of a share of `count` of which `hits` are it, 95 % (Wilson, J. Am. Stat. Assoc. 22,
/// 1927).
struct Interval {
  double low = 0;
  double high = 1;
};
Interval WilsonInterval(int hits, int count);

/// Standard normal numbers, `rows` by `columns`; the same for the same size, everywhere.
Eigen::MatrixXd NormalDraws(Eigen::Index rows, Eigen::Index columns);

/// The standard normal score of a two-sided p-value: 0 for 1, 1.96 for 0.05.
double NormalScore(double p);

}  // namespace debossier::compare
