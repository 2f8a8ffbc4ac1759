#include "compare/hypotheses.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>

#include "compare/budget.h"
#include "compare/statistics.h"

namespace debossier::compare {

namespace {

using measure::kAcross;
using measure::kAlong;
using measure::kLogHeight;
using measure::kLogWidth;

/// What nine of ten normal estimates exceed lies this many u below.
constexpr std::size_t kMostDepartures = 6;

bool IsOfLines(const Sentence& s) { return s.family == Family::kLines; }

/// The model of one photo with the departures that were accepted.
class Trial {
 public:
  Trial(const SetModel& set, const PhotoPoses& poses)
      : set_(set), poses_(poses), photo_(ModelOf(set, poses)), model_(photo_.model) {
    fit_ = model_.Fit();
  }

  BlockColumn OnBlocks(const BlockColumn& over_elements) const {
    BlockColumn blocks;
    for (const std::size_t j : photo_.elements) blocks.push_back(over_elements[j]);
    return blocks;
  }

  /// Takes a departure into the model: its column and what it frees; an element is let go whole.
  void Accept(const Hypothesis& h) {
    const Sentence& s = *h.sentence;
    if (IsOfLines(s)) {
      for (const auto& column : FreedBy(s, set_.frame, h.subject)) Add(column);
      Add(ColumnOf(s.rows, set_.frame, h.subject));
    } else {
      for (int k = 0; k < kPoseValues; ++k) {
        BlockColumn column(set_.frame.elements.size(), PoseVector::Zero());
        column[h.subject.element][k] = 1;
        Add(column);
      }
    }
    fit_ = model_.Fit();
    freed_.clear();
    deleted_.clear();
  }

  void TryLine(Hypothesis& h, Eigen::VectorXd* direction) const {
    const BlockColumn column = OnBlocks(ColumnOf(h.sentence->rows, set_.frame, h.subject));
    if (std::all_of(column.begin(), column.end(), [](const auto& c) { return c.isZero(); })) return;
    const auto& [without, plain] = FreedFor(h);
    const Amplitude first = without.AmplitudeOf(column, plain);
    if (!std::isfinite(first.u)) return;
    h.tried = true;
    h.amplitude = first.value;
    h.u = first.u * plain.inflation;
    h.z = h.amplitude / h.u;
    *direction = first.direction.head(std::min(first.direction.size(), DirectionSize()));
    // Near 0 the first step is the answer.
    constexpr double kWorthwhile = 1.5;
    if (std::abs(h.z) < kWorthwhile) return;
    const BlockModel with = without.With(column);
    BlockFit told = with.Fit(plain.weights);
    const BlockFit afresh = with.Fit();
    if (afresh.objective < told.objective) told = afresh;
    // The plain fit must not be worse only because it started elsewhere.
    FitWeights weights = told.weights;
    weights.precision.conservativeResize(without.columns());
    const BlockFit again = without.Fit(weights);
    const double plain_objective = std::min(plain.objective, again.objective);
    const Eigen::Index last = with.columns() - 1;
    h.amplitude = told.coefficients[last];
    h.u = std::sqrt(told.covariance(last, last)) * told.inflation;
    const double gain = std::max(0.0, plain_objective - told.objective);
    h.z = std::copysign(std::sqrt(gain) / told.inflation, h.amplitude);
    // What it frees explains the photo too, at the price of a coefficient each (Akaike 1974, halved
    // since these are known to move).
    const auto freed = static_cast<double>(without.columns() - model_.columns());
    h.evidence = std::sqrt(std::max(0.0, fit_.objective - told.objective - freed)) / told.inflation;
  }

  void TryElement(Hypothesis& h) const {
    const auto at = std::find(photo_.elements.begin(), photo_.elements.end(), h.subject.element);
    constexpr double kMostMissing = 0.5;
    if (at == photo_.elements.end() || poses_.MissingOf(h.subject.element) > kMostMissing) return;
    const PoseElement& e = set_.frame.elements[h.subject.element];
    // Foil worn off a bare stem's end looks like a shorter or a moved stem.
    const PoseVector moves = h.sentence->rows(set_.frame, h.subject, h.subject.element);
    if (e.width < kLeastExtent && !moves.tail(kPoseValues - 1).isZero()) return;
    if (e.height < kLeastExtent && (moves[kAlong] != 0 || moves[kLogWidth] != 0)) return;
    const auto& left = DeletedOf(static_cast<std::size_t>(at - photo_.elements.begin()));
    std::vector<PoseVector> free;
    for (const auto& column : FreedBy(*h.sentence, set_.frame, h.subject)) {
      free.push_back(column[h.subject.element]);
    }
    const PoseVector rows = h.sentence->rows(set_.frame, h.subject, h.subject.element);
    const Contrast plain = ContrastOf(rows, free, left.scale);
    if (!(plain.variance > 0)) return;
    h.tried = true;
    h.amplitude = plain.functional.dot(left.residual);
    h.u = std::sqrt(plain.variance);
    h.z = Guarded(h, rows, free, left);
    // What an odd block costs, in the units of a difference of objectives. A letter at the end of a
    // line that stands off is also a wider pair, which is the plainer thing to say.
    constexpr double kPlainer = 0.95;
    const double squared = h.amplitude * h.amplitude / plain.variance;
    h.evidence = kPlainer * std::sqrt((kBlockDf + kPoseValues) * std::log1p(squared / kBlockDf));
    // What the items show among themselves is no departure.
    constexpr double kBeyondItems = 1.25;
    double largest = 0;
    for (const PoseVector& item : set_.elements[h.subject.element].residuals) {
      largest = std::max(largest, std::abs(plain.functional.dot(item)));
    }
    if (std::abs(h.amplitude) < kBeyondItems * largest) {
      h.z = std::copysign(std::min(std::abs(h.z), 0.99 * h.level), h.z);
    }
    h.limit = std::max((h.level + kNineOfTen) * h.u, kBeyondItems * largest + kNineOfTen * h.u);
  }

  /// Hypotheses::misfits.
  std::vector<double> Misfits() const {
    std::vector<double> misfits(set_.frame.elements.size(), 0.0);
    for (std::size_t b = 0; b < photo_.elements.size(); ++b) {
      const auto& left = DeletedOf(b);
      const Eigen::LLT<PoseMatrix> scale(left.scale);
      const PoseVector pull = scale.solve(left.residual);
      const double all = left.residual.dot(pull);
      double least = all;
      for (const PoseVector& wandered : EdgesOf(set_.frame.elements[photo_.elements[b]])) {
        const double along = wandered.dot(pull);
        least = std::min(least, all - along * along / wandered.dot(scale.solve(wandered)));
      }
      misfits[photo_.elements[b]] = least / kPoseValues;
    }
    return misfits;
  }

 private:
  /// A linear functional of an element's residual that estimates an amplitude.
  struct Contrast {
    PoseVector functional = PoseVector::Zero();
    double variance = 0;
  };

  /// The model with what a sentence leaves free, and its fit.
  struct Freed {
    BlockModel model;
    BlockFit fit;
  };
  const Freed& FreedFor(const Hypothesis& h) const {
    // Sentences that free the same on one line share it.
    const std::pair key(h.sentence->frees, h.subject.line_idx);
    const auto known = freed_.find(key);
    if (known != freed_.end()) return known->second;
    BlockModel model = model_;
    for (const auto& column : FreedBy(*h.sentence, set_.frame, h.subject)) {
      model = model.With(OnBlocks(column));
    }
    BlockFit fit = model.columns() == model_.columns() ? fit_ : model.Fit(fit_.weights);
    return freed_.emplace(key, Freed{std::move(model), std::move(fit)}).first->second;
  }

  const BlockModel::Deleted& DeletedOf(std::size_t block) const {
    deleted_.resize(photo_.elements.size());
    if (!deleted_[block]) deleted_[block] = model_.Without(block, fit_);
    return *deleted_[block];
  }

  void Add(const BlockColumn& over_elements) { model_ = model_.With(OnBlocks(over_elements)); }

  Eigen::Index DirectionSize() const {
    return static_cast<Eigen::Index>(kPoseValues * photo_.elements.size()) + photo_.model.columns();
  }

  /// Generalized least squares for the first of the columns `rows`, `free`...
  static Contrast ContrastOf(const PoseVector& rows, const std::vector<PoseVector>& free,
                             const PoseMatrix& scale) {
    BlockRows design(kPoseValues, 1 + static_cast<Eigen::Index>(free.size()));
    design.col(0) = rows;
    for (std::size_t k = 0; k < free.size(); ++k) {
      design.col(1 + static_cast<Eigen::Index>(k)) = free[k];
    }
    const BlockRows weighted = scale.llt().solve(design);
    const Eigen::MatrixXd normal = design.transpose() * weighted;
    const Eigen::FullPivLU<Eigen::MatrixXd> solver(normal);
    if (!solver.isInvertible()) return {};
    Eigen::VectorXd first = Eigen::VectorXd::Zero(normal.rows());
    first[0] = 1;
    const Eigen::VectorXd mix = solver.solve(first);
    return {weighted * mix, mix[0]};
  }

  /// What a pose becomes where one edge of the box moves by one cap height: left, right, lower,
  /// upper.
  static std::array<PoseVector, 4> EdgesOf(const PoseElement& e) {
    std::array<PoseVector, 4> edges;
    for (int edge = 0; edge < 4; ++edge) {
      const double sign = edge % 2 == 0 ? -1 : 1;
      PoseVector& moved = edges[static_cast<std::size_t>(edge)];
      moved.setZero();
      moved[edge < 2 ? kAlong : kAcross] = 0.5;
      moved[edge < 2 ? kLogWidth : kLogHeight] = sign / (edge < 2 ? e.width : e.height);
    }
    return edges;
  }

  /// The least |z| with each edge of the element's box let go in turn: a misfit is nearly always
  /// one edge that wandered. No less than a part of the plain one; 0 where the sign changes.
  double Guarded(const Hypothesis& h, const PoseVector& rows, const std::vector<PoseVector>& free,
                 const BlockModel::Deleted& left) const {
    constexpr double kMost = 1.5;
    const PoseElement& e = set_.frame.elements[h.subject.element];
    const double plain = h.amplitude / h.u;
    double least = std::abs(plain);
    for (const PoseVector& wandered : EdgesOf(e)) {
      auto more = free;
      more.push_back(wandered);
      const Contrast without_edge = ContrastOf(rows, more, left.scale);
      if (!(without_edge.variance > 0)) continue;
      const double z =
          without_edge.functional.dot(left.residual) / std::sqrt(without_edge.variance);
      if (z * plain < 0) return 0;
      least = std::min(least, std::abs(z));
    }
    return std::copysign(std::max(least, std::abs(plain) / kMost), plain);
  }

  const SetModel& set_;
  const PhotoPoses& poses_;
  PhotoModel photo_;
  BlockModel model_;
  BlockFit fit_;
  mutable std::map<std::pair<Frees, int>, Freed> freed_;
  mutable std::vector<std::optional<BlockModel::Deleted>> deleted_;  ///< By block.
};

/// Tries every sentence; `levels` by family were filled in before.
void TryAll(const Trial& trial, std::vector<Hypothesis>& all,
            std::vector<Eigen::VectorXd>* directions) {
  for (Hypothesis& h : all) {
    h.tried = false;
    h.z = h.evidence = 0;
    if (IsOfLines(*h.sentence)) {
      Eigen::VectorXd direction;
      trial.TryLine(h, &direction);
      if (h.tried && directions != nullptr) directions->push_back(std::move(direction));
    } else {
      trial.TryElement(h);
    }
  }
}

/// Makers' goods differ in how far they stray: real bindings two to three times as far as tidy
/// simulated ones. One or two items do not show which they are, so that z is taken for a t.
constexpr std::size_t kFewItems = 3;
double FewItemsDf(std::size_t items) { return items < 2 ? 4 : 12; }

/// A level for goods of which many items are known, for goods of which few are.
double WidenedFor(double level, std::size_t items) {
  if (level <= 0 || items >= kFewItems) return level;
  return StudentQuantile(2 * NormalUpperP(level), FewItemsDf(items));
}

/// Another sentence of lines that explained the photo nearly as well as the one at `index` and says
/// nothing once that is in the model; -1: none.
int AlikeOf(const std::vector<Hypothesis>& before, const std::vector<Hypothesis>& after,
            std::ptrdiff_t index) {
  constexpr double kNearly = 9;  // twice the log-likelihood
  const Hypothesis& said = before[static_cast<std::size_t>(index)];
  int best = -1;
  for (std::size_t i = 0; i < before.size(); ++i) {
    const Hypothesis& h = before[i];
    if (static_cast<std::ptrdiff_t>(i) == index || !IsOfLines(*h.sentence)) continue;
    if (h.Strength() <= 1 || after[i].Strength() > 1) continue;
    if (said.evidence * said.evidence - h.evidence * h.evidence > kNearly) continue;
    if (best < 0 || h.evidence > before[static_cast<std::size_t>(best)].evidence) {
      best = static_cast<int>(i);
    }
  }
  return best;
}

}  // namespace

double Hypothesis::Strength() const {
  if (!tried || level <= 0) return 0;
  // Foil wears off and does not grow: a letter that is smaller may be worn. A mark fills with foil,
  // and its outer edge is then taken for an inner one.
  constexpr double kWornLetter = 1.15;
  constexpr double kFilledMark = 1.8;
  const double may_be_worn = sentence->family == Family::kLetterSize ? kWornLetter
                             : sentence->family == Family::kMarkSize ? kFilledMark
                                                                     : 1.0;
  return std::abs(z) / (z < 0 ? may_be_worn * level : level);
}

double IndependentCount(const std::vector<Eigen::VectorXd>& directions, double level) {
  if (directions.size() < 2) return static_cast<double>(directions.size());
  constexpr int kDraws = 64;
  const auto count = static_cast<Eigen::Index>(directions.size());
  const Eigen::Index size = directions.front().size();
  Eigen::MatrixXd rows(count, size);
  for (Eigen::Index i = 0; i < count; ++i) rows.row(i) = directions[static_cast<std::size_t>(i)];
  const Eigen::MatrixXd correlation = rows * rows.transpose();
  const Eigen::MatrixXd draws = rows * NormalDraws(size, kDraws);
  const double tail = NormalUpperP(level);
  double sum = 0;
  for (Eigen::Index i = 0; i < count; ++i) {
    for (int d = 0; d < kDraws; ++d) {
      // Beyond the level by its own conditional distribution, at evenly spaced shares of it.
      const double at = NormalUpperQuantile(tail * (d + 0.5) / kDraws);
      const double shift = at - draws(i, d);
      int beyond = 0;
      for (Eigen::Index k = 0; k < count; ++k) {
        beyond += std::abs(draws(k, d) + shift * correlation(i, k)) >= level;
      }
      sum += 1.0 / std::max(1, beyond);
    }
  }
  return sum / kDraws;
}

Hypotheses TestHypotheses(const SetModel& set, const PhotoPoses& poses, double rate) {
  Hypotheses out;
  for (const Sentence& s : Sentences()) {
    for (const Subject& subject : SubjectsOf(s.scope, set.frame)) {
      Hypothesis h;
      h.sentence = &s;
      h.subject = subject;
      h.level = WidenedFor(LevelAt(BudgetOf(FamilyOf(s, subject)), rate), set.items);
      out.all.push_back(h);
    }
  }
  Trial trial(set, poses);
  std::vector<Eigen::VectorXd> directions;
  TryAll(trial, out.all, &directions);
  const double share = rate * BudgetOf(Family::kLines).share;
  const double all = std::max(1.0, static_cast<double>(directions.size()));
  out.independent = std::max(1.0, IndependentCount(directions, NormalScore(share / all)));
  const double level = WidenedFor(NormalScore(share / out.independent), set.items);
  for (Hypothesis& h : out.all) {
    if (!IsOfLines(*h.sentence) || !h.tried) continue;
    h.level = level;
    h.p = set.items < kFewItems ? StudentTwoSidedP(h.z, FewItemsDf(set.items))
                                : 2 * NormalUpperP(std::abs(h.z));
    h.limit = (level + kNineOfTen) * h.u;
  }
  std::vector<Hypothesis> left = out.all;
  Trial lines = trial;
  for (int rank = 1; rank <= static_cast<int>(kMostDepartures); ++rank) {
    const auto strongest =
        std::max_element(left.begin(), left.end(), [](const Hypothesis& a, const Hypothesis& b) {
          return (a.Strength() > 1 ? a.evidence : 0) < (b.Strength() > 1 ? b.evidence : 0);
        });
    if (strongest == left.end() || strongest->Strength() <= 1) break;
    const auto index = strongest - left.begin();
    out.all[static_cast<std::size_t>(index)] = *strongest;
    out.all[static_cast<std::size_t>(index)].rank = rank;
    const std::vector<Hypothesis> before = left;
    if (IsOfLines(*strongest->sentence)) lines.Accept(*strongest);
    trial.Accept(*strongest);
    TryAll(trial, left, nullptr);
    out.all[static_cast<std::size_t>(index)].alike = AlikeOf(before, left, index);
  }
  out.misfits = lines.Misfits();
  return out;
}

}  // namespace debossier::compare
