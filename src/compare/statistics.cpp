#include "compare/statistics.h"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <random>

#include "base/result.h"

namespace debossier::compare {

double StudentTwoSidedP(double t, double df) {
  if (std::isnan(t)) return 1;
  const boost::math::students_t_distribution<double> distribution(df);
  const double upper = std::min(std::abs(t), 1e12);
  return std::min(1.0, 2 * boost::math::cdf(boost::math::complement(distribution, upper)));
}

double StudentQuantile(double p, double df) {
  const boost::math::students_t_distribution<double> distribution(df);
  return boost::math::quantile(boost::math::complement(distribution, p / 2));
}

ShrunkVariance Shrink(double prior_variance, double prior_df, double variance, double df) {
  if (df <= 0) return {prior_variance, prior_df};
  return {(prior_df * prior_variance + df * variance) / (prior_df + df), prior_df + df};
}

double NormalUpperP(double z) {
  const boost::math::normal_distribution<double> normal;
  return boost::math::cdf(boost::math::complement(normal, std::clamp(z, -38.0, 38.0)));
}

double NormalUpperQuantile(double p) {
  const boost::math::normal_distribution<double> normal;
  return boost::math::quantile(boost::math::complement(normal, p));
}

Interval WilsonInterval(int hits, int count) {
  if (count == 0) return {};
  constexpr double kZ = 1.959963984540054;
  const double n = count;
  const double p = hits / n;
  const double centre = (p + kZ * kZ / (2 * n)) / (1 + kZ * kZ / n);
  const double half = kZ / (1 + kZ * kZ / n) * std::sqrt(p * (1 - p) / n + kZ * kZ / (4 * n * n));
  return {std::max(0.0, centre - half), std::min(1.0, centre + half)};
}

Eigen::MatrixXd NormalDraws(Eigen::Index rows, Eigen::Index columns) {
  // Box and Muller 1958; the generator's bits are fixed by the standard, its distributions are not.
  constexpr double kTwoPi = 6.28318530717958648;
  std::mt19937_64 random(20);
  const auto uniform = [&random] {
    return (static_cast<double>(random() >> 11) + 0.5) / 9007199254740992.0;
  };
  Eigen::MatrixXd draws(rows, columns);
  for (Eigen::Index k = 0; k < draws.size(); ++k) {
    const double radius = std::sqrt(-2 * std::log(uniform()));
    draws.data()[k] = radius * std::cos(kTwoPi * uniform());
  }
  return draws;
}

double NormalScore(double p) {
  constexpr double kLeast = 1e-15;
  const boost::math::normal_distribution<double> normal;
  const double half = std::clamp(p, kLeast, 1.0) / 2;
  return boost::math::quantile(boost::math::complement(normal, half));
}

}  // namespace debossier::compare
