// A lettering of plain boxes, and sets and photos of it drawn from the model that comparison
// assumes.
#pragma once

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <random>
#include <string>

#include "compare/hypotheses.h"
#include "compare/pose_design.h"
#include "compare/set_model.h"
#include "refset/refset.h"

namespace debossier::compare {

/// `letters` on the wordmark, a mark, and `later` letters of half the size on a second line (0:
/// none).
inline outline::Lettering BoxLettering(int letters, int later) {
  outline::Lettering lettering;
  const auto add_line = [&](int line_idx, int count, double size, double baseline) {
    const std::string id = line_idx == 0 ? "wordmark" : "origin";
    lettering.lines.push_back(
        {id, std::string(static_cast<std::size_t>(count), 'H'), baseline, size, 0});
    const double pitch = 0.9 * size;
    double x = line_idx == 0 ? 0 : 0.45 * letters - 0.5 * pitch * count;
    for (int k = 0; k < count; ++k, x += pitch) {
      outline::Element e;
      e.id = fmt::format("{}.{}", id, k);
      e.line_idx = line_idx;
      e.character = "H";
      e.outline.contours.push_back(outline::Rectangle(
          {{x, baseline}, {x + (0.6 + 0.02 * (k % 5)) * size, baseline + size}}));
      lettering.elements.push_back(e);
    }
  };
  add_line(0, letters, 1, 0);
  if (later > 0) add_line(1, later, 0.5, -1.1);
  outline::Element mark;
  mark.id = "mark";
  mark.kind = outline::ElementKind::kMark;
  mark.character = std::string("®");
  mark.outline.contours.push_back(
      outline::Rectangle({{0.9 * letters, 0.68}, {0.9 * letters + 0.32, 1}}));
  lettering.elements.push_back(mark);
  return lettering;
}

/// Draws photos of one die. Every set has spreads of its own, drawn as the model expects them.
class PoseDrawer {
 public:
  PoseDrawer(const outline::Lettering& lettering, unsigned seed)
      : lettering_(lettering),
        frame_(FrameOf(lettering)),
        columns_(ColumnsOf(frame_)),
        random_(seed) {
    DrawSpreads();
  }

  void DrawSpreads() {
    for (int k = 1; k < kEffectKinds; ++k) {
      const double usual = UsualSpread(static_cast<EffectKind>(k)).deviation;
      effects_[static_cast<std::size_t>(k)] =
          usual * std::sqrt(kUsualEffectDf / Chi2(kUsualEffectDf));
    }
  }

  /// `u`: standard uncertainty of places, and of sizes times two.
  std::map<std::string, measure::Pose> Photo(double u) {
    std::vector<double> coefficients;
    for (const EffectKind kind : columns_.kinds) {
      const double deviation =
          kind == EffectKind::kFlat ? 0.01 : effects_[static_cast<std::size_t>(kind)];
      coefficients.push_back(deviation * normal_(random_));
    }
    std::map<std::string, measure::Pose> poses;
    for (std::size_t j = 0; j < frame_.elements.size(); ++j) {
      measure::Pose pose;
      PoseVector own;
      own << u, u, 2 * u, 2 * u, 2 * u;
      pose.covariance = own.cwiseAbs2().asDiagonal();
      const double tail = std::sqrt(kBlockDf / Chi2(kBlockDf));
      const PoseVector spread = UsualElementSpread();
      for (int k = 0; k < kPoseValues; ++k) {
        pose.value[k] = tail * std::hypot(own[k], spread[k]) * normal_(random_);
        for (std::size_t c = 0; c < coefficients.size(); ++c) {
          pose.value[k] += coefficients[c] * columns_.rows[j](k, static_cast<Eigen::Index>(c));
        }
      }
      poses[lettering_.elements[j].id] = pose;
    }
    return poses;
  }

  refset::Item Item(double u) {
    refset::Item item;
    item.cap_height_px = 100;
    item.photo_kept = "kept";
    item.poses = Photo(u);
    return item;
  }

  refset::RefSet Set(int items, double u) {
    refset::RefSet set;
    set.lettering = lettering_;
    for (int i = 0; i < items; ++i) {
      set.items.push_back(Item(u));
      set.items.back().id = fmt::format("item{}", i + 1);
    }
    return set;
  }

 private:
  double Chi2(double df) { return std::chi_squared_distribution<>(df)(random_); }

  const outline::Lettering& lettering_;
  PoseFrame frame_;
  PoseColumns columns_;
  std::array<double, kEffectKinds> effects_{};
  std::mt19937 random_;
  std::normal_distribution<> normal_;
};

}  // namespace debossier::compare
