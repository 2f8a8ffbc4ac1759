// Every sentence tried on one photo's poses against a set.
//
// Sentences of lines: amplitude and u by the reweighted fit, z by the difference of objectives with
// and without the sentence. Sentences of one element: what the others leave of it (deleted
// residual), with guards against an outline's edge that wandered and against letters that already
// stray among the items. The strongest that goes beyond its level is taken into the model, and the
// others are tried again, so that one departure is told once.
// Frame and units: pose.h. Not for: forms, cases and frames (categories.cpp).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compare/sentences.h"
#include "compare/set_model.h"

namespace debossier::compare {

/// Nine of ten normal values lie below so many standard deviations.
inline constexpr double kNineOfTen = 1.2816;

struct Hypothesis {
  const Sentence* sentence = nullptr;
  Subject subject;
  double amplitude = 0;  ///< In the sentence's unit.
  double u = 0;
  double z = 0;
  double evidence = 0;      ///< |z| on the scale of likelihood ratios, before guards: what ranks.
  double level = 0;         ///< |z| beyond which it is said.
  std::optional<double> p;  ///< Two-sided, of this sentence alone; where its tail is a known one.
  double limit = 0;         ///< The amplitude that nine of ten such photos would show.
  bool tried = false;       ///< False: the element was not found, or too little of it is there.
  int rank = 0;             ///< 1 for the strongest departure, and so on; 0: none.
  int alike = -1;           ///< Of a departure: index of another that explains the photo as well.
  /// How far beyond the level; above 1 it departs.
  double Strength() const;
};

struct Hypotheses {
  std::vector<Hypothesis> all;  ///< By sentence, then by subject.
  double independent = 1;       ///< Sentences of lines, counted as independent ones.
  /// By element: mean square of its five values beyond what the others and the sentences of lines
  /// that are said explain, in standard deviations, with the edge of its box let go that strays
  /// most. 0 where it was not found.
  std::vector<double> misfits;
};

/// `rate`: of the photo, shared by budget.h.
Hypotheses TestHypotheses(const SetModel& set, const PhotoPoses& poses, double rate);

/// How many independent normal z leave the same chance that one of these goes beyond `level`:
/// `directions` are unit vectors whose dot products are the correlations. The chance of a union as
/// the sum of single chances, each times the mean of one over how many go beyond together (Naiman
/// and Priebe, J. Comput. Graph. Stat. 10, 2001), by a fixed sample.
double IndependentCount(const std::vector<Eigen::VectorXd>& directions, double level);

}  // namespace debossier::compare
