#include "compare/set_model.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "compare/item_lettering.h"

namespace debossier::compare {

using measure::kAcross;
using measure::kAlong;
using measure::kLogHeight;
using measure::kLogWidth;
using measure::kShear;
using measure::Pose;

namespace {

/// Variance of a value that is not used: far more than any departure.
constexpr double kUnusedVariance = 1;

PoseVector LeastSpread() {
  PoseVector v;
  v << 0.001, 0.001, 0.0002, 0.0002, 0.0005;
  return v;
}
/// How many values the usual spread's word is worth.
constexpr double kUsualSpreadDf = 12;

/// Blur of the photos on which effects were learned, cap heights. What more of it does to edges is
/// a gain too.
constexpr double kUsualBlur = 0.016;
bool GrowsWithBlur(EffectKind kind) {
  return kind == EffectKind::kGainWidth || kind == EffectKind::kGainHeight ||
         kind == EffectKind::kOriginGainWidth || kind == EffectKind::kOriginGainHeight;
}

/// Where whole parts of a letter have no foil, the edges that are left speak for one side of it:
/// how far its values may be off beyond what they show. From simulated photos with 30 % worn.
PoseVector OfWear(double missing) {
  constexpr double kFrom = 0.25;
  const double beyond = std::max(0.0, missing - kFrom);
  PoseVector v;
  v << 0.04, 0.04, 0.08, 0.08, 0.04;
  return beyond * v;
}

/// How far the blur of a photo differs from the items', as a variance: what blur does to all alike
/// is in the mean.
double OtherBlur(double blur, double usual_variance) {
  constexpr double kLikeness = 0.15;  // blurs of one size still differ in form
  return std::abs(blur * blur - usual_variance) + kLikeness * usual_variance;
}

/// The pose as a block, against `expected`; `blur_variance` as OtherBlur.
Block BlockOf(const Pose& pose, const PoseElement& element, double blur_variance,
              const PoseVector& expected, const BlockRows& rows) {
  Block b;
  b.value = pose.value - expected;
  b.scale = pose.covariance;
  b.rows = rows;
  // A curved edge moves by half the blur's variance times its curvature, which is some two over the
  // extent and more at pointed letters; the opposite edge may be straight, so that part of it moves
  // the middle. A size loses that at both ends.
  const auto shifted = [&](double extent) {
    return std::pow(1.5 * blur_variance / std::max(kLeastExtent, extent), 2);
  };
  const auto resized = [&](double extent) {
    return std::pow(3 * blur_variance / std::pow(std::max(kLeastExtent, extent), 2), 2);
  };
  b.scale(kAlong, kAlong) += shifted(element.width);
  b.scale(kAcross, kAcross) += shifted(element.height);
  b.scale(kLogWidth, kLogWidth) += resized(element.width);
  b.scale(kLogHeight, kLogHeight) += resized(element.height);
  const auto drop = [&b](int k) {
    b.scale.row(k).setZero();
    b.scale.col(k).setZero();
    b.scale(k, k) = kUnusedVariance;
    b.value[k] = 0;
    b.rows.row(k).setZero();
    --b.used;
  };
  if (element.width < kLeastExtent) drop(kLogWidth);
  if (element.height < kLeastExtent) drop(kLogHeight);
  return b;
}

/// One item as the blocks of its elements; the set's means are not in it yet.
struct ItemBlocks {
  std::vector<std::size_t> elements;
  std::vector<Block> measured;  ///< Scale: the photo's own uncertainty.
  std::vector<double> weights;
  std::vector<PoseVector> residuals;  ///< Beyond the whole and the mean.
  std::vector<PoseVector> explained;  ///< Variance of what the whole says there.
  Eigen::VectorXd coefficients;
  Eigen::VectorXd variances;
};

Eigen::VectorXd PrecisionOf(const std::vector<EffectKind>& kinds,
                            const std::array<double, kEffectKinds>& effects) {
  Eigen::VectorXd precision(static_cast<Eigen::Index>(kinds.size()));
  for (std::size_t k = 0; k < kinds.size(); ++k) {
    const double deviation = effects[static_cast<std::size_t>(kinds[k])];
    precision[static_cast<Eigen::Index>(k)] =
        kinds[k] == EffectKind::kFlat ? 0 : 1 / (deviation * deviation);
  }
  return precision;
}

/// Learns by alternating: what the whole does on each item, the means, the spreads.
class Learner {
 public:
  Learner(const refset::RefSet& set, SetModel& out)
      : out_(out), usual_(out.letter_spread), usual_effects_(out.effects) {
    std::vector<PhotoPoses> photos;
    for (const auto& item : set.items) {
      photos.push_back(PosesOf(set, item));
      out.blur_variance +=
          photos.back().blur * photos.back().blur / static_cast<double>(set.items.size());
    }
    for (const PhotoPoses& poses : photos) {
      ItemBlocks b;
      for (std::size_t j = 0; j < poses.elements.size(); ++j) {
        if (!poses.elements[j]) continue;
        b.elements.push_back(j);
        b.measured.push_back(BlockOf(*poses.elements[j], out.frame.elements[j],
                                     OtherBlur(poses.blur, out.blur_variance), PoseVector::Zero(),
                                     out.columns.rows[j]));
      }
      b.weights.assign(b.elements.size(), 1.0);
      if (!b.elements.empty()) items_.push_back(std::move(b));
    }
    for (ItemBlocks& item : items_) FitItem(item);
  }

  void Learn() {
    constexpr int kMostRounds = 30;
    constexpr double kSettled = 0.01;  // of each spread
    for (int round = 0; round < kMostRounds && !items_.empty(); ++round) {
      UpdateMeans();
      for (ItemBlocks& item : items_) FitItem(item);
      const Eigen::VectorXd before = Spreads();
      UpdateSpread();
      UpdateEffects();
      const Eigen::VectorXd change = (Spreads() - before).cwiseQuotient(before);
      if (round > 2 && change.cwiseAbs().maxCoeff() < kSettled) break;
    }
    UpdateMeans();
    for (ItemBlocks& item : items_) {
      FitItem(item);
      for (std::size_t b = 0; b < item.elements.size(); ++b) {
        out_.elements[item.elements[b]].residuals.push_back(item.residuals[b]);
      }
    }
  }

 private:
  /// All that is learned beside the means.
  Eigen::VectorXd Spreads() const {
    Eigen::VectorXd all(2 * kPoseValues + kEffectKinds - 1);
    all << out_.letter_spread, out_.mark_spread,
        Eigen::Map<const Eigen::VectorXd>(out_.effects.data() + 1, kEffectKinds - 1);
    return all;
  }

  PoseMatrix ScaleOf(const Block& block, std::size_t element) const {
    PoseMatrix scale = block.scale;
    scale.diagonal() += out_.SpreadOf(element).cwiseAbs2();
    return scale;
  }

  /// One weighted least-squares step, in the frame in which each block's scale matrix is the unit
  /// matrix.
  void FitItem(ItemBlocks& item) {
    const auto n = static_cast<Eigen::Index>(out_.columns.kinds.size());
    const auto values = static_cast<Eigen::Index>(kPoseValues * item.elements.size());
    Eigen::MatrixXd rows(values, n);
    Eigen::MatrixXd plain(n, values);  // rows as measured, beside each other
    Eigen::VectorXd value(values);
    std::vector<PoseMatrix> whiten(item.elements.size());
    for (std::size_t b = 0; b < item.elements.size(); ++b) {
      const Block& block = item.measured[b];
      const Eigen::LLT<PoseMatrix> root(ScaleOf(block, item.elements[b]));
      whiten[b] = root.matrixL().solve(PoseMatrix::Identity());
      const auto at = static_cast<Eigen::Index>(kPoseValues * b);
      const PoseMatrix weighted = std::sqrt(item.weights[b]) * whiten[b];
      rows.middleRows<kPoseValues>(at).noalias() = weighted.lazyProduct(block.rows);
      plain.middleCols<kPoseValues>(at) = block.rows.transpose();
      value.segment<kPoseValues>(at) =
          weighted * (block.value - out_.elements[item.elements[b]].mean);
    }
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(n, n);
    normal.selfadjointView<Eigen::Lower>().rankUpdate(rows.transpose());
    normal.diagonal().array() += PrecisionOf(out_.columns.kinds, out_.effects).array() + 1e-6;
    const Eigen::LLT<Eigen::MatrixXd> solver(normal);
    item.coefficients = solver.solve(rows.transpose() * value);
    item.variances =
        solver.matrixL().solve(Eigen::MatrixXd::Identity(n, n)).colwise().squaredNorm();
    const Eigen::VectorXd explained =
        solver.matrixL().solve(plain).colwise().squaredNorm().transpose();
    item.residuals.clear();
    item.explained.clear();
    for (std::size_t b = 0; b < item.elements.size(); ++b) {
      const Block& block = item.measured[b];
      const PoseVector left =
          block.value - out_.elements[item.elements[b]].mean - block.rows * item.coefficients;
      item.weights[b] = (kBlockDf + block.used) / (kBlockDf + (whiten[b] * left).squaredNorm());
      item.residuals.push_back(left);
      item.explained.push_back(
          explained.segment<kPoseValues>(static_cast<Eigen::Index>(kPoseValues * b)));
    }
  }

  void UpdateMeans() {
    std::vector<PoseMatrix> information(out_.elements.size(), PoseMatrix::Zero());
    std::vector<PoseMatrix> certain = information;
    std::vector<PoseVector> right(out_.elements.size(), PoseVector::Zero());
    for (const ItemBlocks& item : items_) {
      for (std::size_t b = 0; b < item.elements.size(); ++b) {
        const std::size_t j = item.elements[b];
        const PoseMatrix w = item.weights[b] * ScaleOf(item.measured[b], j).inverse();
        information[j] += w;
        right[j] += w * (item.residuals[b] + out_.elements[j].mean);
        // A mean of few lies close to each: that none is far off makes it no surer.
        certain[j] += std::min(1.0, 1 / item.weights[b]) * w;
        out_.elements[j].is_known = true;
      }
    }
    for (std::size_t j = 0; j < out_.elements.size(); ++j) {
      if (!out_.elements[j].is_known) continue;
      out_.elements[j].mean = information[j].inverse() * right[j];
      // The location of a multivariate t is that much less sure than that of a normal with its
      // scale (Lange, Little and Taylor 1989, appendix B).
      constexpr double kLoss = (kBlockDf + kPoseValues + 2) / (kBlockDf + kPoseValues);
      out_.elements[j].of_mean = kLoss * certain[j].inverse();
    }
  }

  /// How much larger the variance of a residual would be were the mean not taken from it too.
  double Correction(std::size_t element) const {
    double n = 0;
    for (const ItemBlocks& item : items_) {
      n += std::binary_search(item.elements.begin(), item.elements.end(), element);
    }
    return n > 1 ? n / (n - 1) : 0;
  }

  void UpdateSpread() {
    for (const bool mark : {false, true}) {
      PoseVector& spread = mark ? out_.mark_spread : out_.letter_spread;
      // What the letters show stands before what the one mark shows.
      const PoseVector usual = mark ? out_.letter_spread : usual_;
      const double freedom = kUsualSpreadDf * out_.effect_freedom / kUsualEffectDf;
      PoseVector squares = freedom * usual.cwiseAbs2();
      PoseVector count = PoseVector::Constant(freedom);
      for (const ItemBlocks& item : items_) {
        for (std::size_t b = 0; b < item.elements.size(); ++b) {
          const std::size_t j = item.elements[b];
          const double correction = Correction(j);
          if (out_.frame.elements[j].is_mark != mark || correction == 0) continue;
          for (int k = 0; k < kPoseValues; ++k) {
            const double own = item.measured[b].scale(k, k);
            if (own >= kUnusedVariance) continue;
            const double natural = spread[k] * spread[k];
            const double share = natural / (natural + own);
            const double left = item.residuals[b][k];
            const double square = item.weights[b] * left * left * correction + item.explained[b][k];
            squares[k] += (share * share * square + natural * (1 - share)) / correction;
            count[k] += 1 / correction;
          }
        }
      }
      spread = squares.cwiseQuotient(count).cwiseSqrt().cwiseMax(LeastSpread());
    }
  }

  void UpdateEffects() {
    const double n = static_cast<double>(items_.size());
    if (n < 2) return;
    std::array<double, kEffectKinds> squares{};
    std::array<double, kEffectKinds> count{};
    for (std::size_t k = 0; k < out_.columns.kinds.size(); ++k) {
      const auto kind = static_cast<std::size_t>(out_.columns.kinds[k]);
      const auto at = static_cast<Eigen::Index>(k);
      double mean = 0;
      for (const ItemBlocks& item : items_) mean += item.coefficients[at] / n;
      for (const ItemBlocks& item : items_) {
        const double off = item.coefficients[at] - mean;
        squares[kind] += off * off + (n - 1) / n * item.variances[at];
      }
      count[kind] += n - 1;
    }
    for (int k = 1; k < kEffectKinds; ++k) {
      const auto kind = static_cast<std::size_t>(k);
      const double usual = usual_effects_[kind];
      const double variance = (out_.effect_freedom * usual * usual + squares[kind]) /
                              (out_.effect_freedom + count[kind]);
      out_.effects[kind] =
          std::max(UsualSpread(static_cast<EffectKind>(k)).least, std::sqrt(variance));
    }
  }

  SetModel& out_;
  const PoseVector usual_;  ///< Of letters, before items speak.
  const std::array<double, kEffectKinds> usual_effects_;
  std::vector<ItemBlocks> items_;
};

/// What is believed before the items speak: the built-in spread, or what the library showed.
void StartFrom(const refset::LibrarySpread& library, SetModel& out) {
  out.letter_spread = UsualElementSpread();
  for (int k = 0; k < kEffectKinds; ++k) {
    out.effects[static_cast<std::size_t>(k)] = UsualSpread(static_cast<EffectKind>(k)).deviation;
  }
  if (!library.sets.empty()) {
    // The library's word is worth its items, up to a point: goods of other makers differ.
    constexpr int kMost = 24;
    out.letter_spread = library.elements.cwiseMax(LeastSpread());
    out.effect_freedom += std::min(kMost, library.freedom);
    for (int k = 1; k < kEffectKinds; ++k) {
      const auto kind = static_cast<EffectKind>(k);
      const auto known = library.effects.find(NameOf(kind));
      if (known == library.effects.end()) continue;
      out.effects[static_cast<std::size_t>(k)] = std::max(UsualSpread(kind).least, known->second);
    }
  }
  out.mark_spread = out.letter_spread;
}

}  // namespace

PoseVector UsualElementSpread() {
  PoseVector v;
  v << 0.0014, 0.0012, 0.0012, 0.0012, 0.003;
  return v;
}

SetModel LearnSet(const refset::RefSet& set) {
  SetModel out;
  out.frame = FrameOf(set.lettering);
  out.columns = ColumnsOf(out.frame);
  out.elements.resize(set.lettering.elements.size());
  StartFrom(set.library_spread, out);
  out.items = set.items.size();
  Learner(set, out).Learn();
  if (set.items.empty()) {
    // A font's outlines count as one item.
    for (auto& e : out.elements) {
      e.is_known = true;
      e.of_mean = out.letter_spread.cwiseAbs2().asDiagonal();
    }
  }
  return out;
}

PhotoModel ModelOf(const SetModel& set, const PhotoPoses& poses) {
  std::vector<Block> blocks;
  std::vector<std::size_t> elements;
  for (std::size_t j = 0; j < poses.elements.size(); ++j) {
    const auto& known = set.elements[j];
    if (!poses.elements[j] || !known.is_known) continue;
    Block b = BlockOf(*poses.elements[j], set.frame.elements[j],
                      OtherBlur(poses.blur, set.blur_variance), known.mean, set.columns.rows[j]);
    b.scale.diagonal() += OfWear(poses.MissingOf(j)).cwiseAbs2();
    b.scale += known.of_mean;
    b.scale.diagonal() += set.SpreadOf(j).cwiseAbs2();
    blocks.push_back(std::move(b));
    elements.push_back(j);
  }
  // What the mean of n items takes up of an effect is as uncertain as one item's, over n.
  const double n = std::max(1.0, static_cast<double>(set.items));
  std::vector<ColumnPrior> priors;
  for (const EffectKind kind : set.columns.kinds) {
    const double blurred = GrowsWithBlur(kind) ? std::max(1.0, poses.blur / kUsualBlur) : 1.0;
    priors.push_back({blurred * std::sqrt(1 + 1 / n) * set.effects[static_cast<std::size_t>(kind)],
                      set.effect_freedom + n - 1});
  }
  return {BlockModel(blocks, std::move(priors), kBlockDf), std::move(elements)};
}

}  // namespace debossier::compare
