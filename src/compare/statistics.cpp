#include "compare/statistics.h"

#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/special_functions/digamma.hpp>
#include <boost/math/special_functions/trigamma.hpp>
#include <cmath>
#include <limits>
#include <numeric>
#include <random>

#include "base/result.h"

namespace debossier::compare {

double StudentUpperP(double t, double df) {
  if (std::isnan(t)) return 1;
  const boost::math::students_t_distribution<double> distribution(df);
  return boost::math::cdf(boost::math::complement(distribution, std::clamp(t, -1e12, 1e12)));
}

double StudentTwoSidedP(double t, double df) {
  if (std::isnan(t)) return 1;
  return std::min(1.0, 2 * StudentUpperP(std::abs(t), df));
}

double StudentQuantile(double p, double df) {
  const boost::math::students_t_distribution<double> distribution(df);
  return boost::math::quantile(boost::math::complement(distribution, p / 2));
}

double FisherUpperP(double f, double df1, double df2) {
  if (!(f > 0)) return 1;
  const boost::math::fisher_f_distribution<double> distribution(df1, df2);
  return boost::math::cdf(boost::math::complement(distribution, std::min(f, 1e12)));
}

ShrunkVariance Shrink(double prior_variance, double prior_df, double variance, double df) {
  if (df <= 0) return {prior_variance, prior_df};
  return {(prior_df * prior_variance + df * variance) / (prior_df + df), prior_df + df};
}

namespace {

/// Solves trigamma(x) = y by Newton steps from the asymptotic start (Smyth 2004, appendix).
double InverseTrigamma(double y) {
  if (y > 1e7) return 1 / std::sqrt(y);
  if (y < 1e-6) return 1 / y;
  double x = 0.5 + 1 / y;
  for (int i = 0; i < 50; ++i) {
    const double tri = boost::math::trigamma(x);
    // Second derivative of log gamma's second derivative, by a central difference.
    const double h = 1e-5 * x;
    const double slope = (boost::math::trigamma(x + h) - boost::math::trigamma(x - h)) / (2 * h);
    const double step = tri * (1 - tri / y) / slope;
    x += step;
    if (std::abs(step) < 1e-10 * x) break;
  }
  return x;
}

}  // namespace

ShrunkVariance EstimatePrior(const std::vector<double>& variances, double df) {
  std::vector<double> e;
  for (const double v : variances) {
    if (v > 0) {
      e.push_back(std::log(v) - boost::math::digamma(df / 2) + std::log(df / 2));
    }
  }
  const double infinity = std::numeric_limits<double>::infinity();
  if (e.empty()) return {0, 0};
  const double mean = std::accumulate(e.begin(), e.end(), 0.0) / static_cast<double>(e.size());
  if (e.size() < 2) return {std::exp(mean), infinity};
  double variance = 0;
  for (const double v : e) variance += (v - mean) * (v - mean);
  variance /= static_cast<double>(e.size() - 1);
  const double excess = variance - boost::math::trigamma(df / 2);
  if (excess <= 0) return {std::exp(mean), infinity};
  const double d0 = 2 * InverseTrigamma(excess);
  return {std::exp(mean + boost::math::digamma(d0 / 2) - std::log(d0 / 2)), d0};
}

double CauchyCombined(const std::vector<double>& p) {
  if (p.empty()) return 1;
  constexpr double kPi = 3.14159265358979;
  double sum = 0;
  for (const double v : p) {
    // The cotangent in its small-p form keeps precision where the tangent would lose it.
    sum += v < 1e-10 ? 1 / (kPi * std::max(v, 1e-300)) : std::tan((0.5 - std::min(v, 1.0)) * kPi);
  }
  const double mean = sum / static_cast<double>(p.size());
  if (mean > 1e10) return 1 / (kPi * mean);
  return std::clamp(0.5 - std::atan(mean) / kPi, 0.0, 1.0);
}

std::vector<double> HolmAdjusted(const std::vector<double>& p) {
  return HolmAdjusted(p, std::vector<double>(p.size(), 1.0));
}

std::vector<double> HolmAdjusted(const std::vector<double>& p, const std::vector<double>& weights) {
  DEBOSSIER_ASSERT(p.size() == weights.size());
  std::vector<std::size_t> order(p.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return p[a] / weights[a] < p[b] / weights[b];
  });
  double left = std::accumulate(weights.begin(), weights.end(), 0.0);
  std::vector<double> adjusted(p.size(), 1.0);
  double running = 0;
  for (const std::size_t k : order) {
    running = std::max(running, std::min(1.0, p[k] / weights[k] * left));
    adjusted[k] = running;
    left -= weights[k];
  }
  return adjusted;
}

double NormalUpperP(double z) {
  const boost::math::normal_distribution<double> normal;
  return boost::math::cdf(boost::math::complement(normal, std::clamp(z, -38.0, 38.0)));
}

double NormalUpperQuantile(double p) {
  const boost::math::normal_distribution<double> normal;
  return boost::math::quantile(boost::math::complement(normal, p));
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
