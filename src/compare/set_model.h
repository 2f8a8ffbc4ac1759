// What the verified items of a set say of poses: means, natural spread, and how strongly what is no
// departure varies between photos.
//
// Spread is pooled over all elements of a kind and found by marginal likelihood (EM; Dempster,
// Laird and Rubin 1977), each item with its own photo's uncertainty, so that it holds where items
// were photographed worse or better than the questioned photo. Frame and units: pose.h. Not for:
// questioned photos; those are judged against this (hypotheses.h).
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "compare/block_fit.h"
#include "compare/pose_design.h"
#include "refset/refset.h"

namespace debossier::compare {

/// Poses of one photo, in the lettering's order; empty where an element was not found.
struct PhotoPoses {
  std::vector<std::optional<measure::Pose>> elements;
  std::vector<double> missing;  ///< Share of each element's area without foil; empty: not known.
  double blur = 0;              ///< Standard deviation, cap heights.
  double MissingOf(std::size_t element) const { return missing.empty() ? 0 : missing[element]; }
};

/// Poses that a set keeps of an item; worked out of its measured lengths where the set was written
/// before poses were kept.
PhotoPoses PosesOf(const refset::RefSet& set, const refset::Item& item);

/// Natural spread of elements before any item speaks: standard deviations between items, where the
/// library has nothing to say.
PoseVector UsualElementSpread();

/// How many photos the usual spread of effects (UsualSpread) is worth.
inline constexpr double kUsualEffectDf = 8;

struct SetModel {
  struct Element {
    PoseVector mean = PoseVector::Zero();
    PoseMatrix of_mean = PoseMatrix::Zero();  ///< Covariance of the mean.
    std::vector<PoseVector> residuals;        ///< Of each item that shows the element.
    bool is_known = false;                    ///< Some item shows it, or the set is from a font.
  };
  PoseFrame frame;
  PoseColumns columns;
  std::vector<Element> elements;
  PoseVector letter_spread = PoseVector::Zero();  ///< Standard deviations between items.
  PoseVector mark_spread = PoseVector::Zero();
  std::array<double, kEffectKinds> effects{};  ///< Standard deviations, by kind.
  double effect_freedom = kUsualEffectDf;      ///< Photos that what was believed before is worth.
  double blur_variance = 0;                    ///< Mean over the items, cap heights squared.
  std::size_t items = 0;

  const PoseVector& SpreadOf(std::size_t element) const {
    return frame.elements[element].is_mark ? mark_spread : letter_spread;
  }
};

/// What the library's sets show of natural spread, all but `except`: sets of two items and more
/// that are simulated or not as asked for. Sets that cannot be read are passed over. Deterministic
/// for a library; its result is kept with the set that is made.
refset::LibrarySpread SpreadOfLibrary(const refset::Library& library, const std::string& except,
                                      bool simulated);

SetModel LearnSet(const refset::RefSet& set);

/// The linear model of a questioned photo's poses against the set; `elements` are the indices of
/// the blocks.
struct PhotoModel {
  BlockModel model;
  std::vector<std::size_t> elements;
};
PhotoModel ModelOf(const SetModel& set, const PhotoPoses& poses);

/// A width or height below this is a stem's or a bar's thickness, which pressing changes: it is not
/// used. Cap heights.
inline constexpr double kLeastExtent = 0.2;

/// Degrees of freedom of the blocks' t: the log-likelihood of simulated photos peaks there.
inline constexpr double kBlockDf = 6;

}  // namespace debossier::compare
