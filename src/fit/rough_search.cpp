#include "fit/rough_search.h"

#include <algorithm>
#include <opencv2/imgproc.hpp>
#include <optional>

#include "image/blocks.h"
#include "separate/contrast.h"

namespace debossier::fit {

namespace {

/// One of three masks of a map, from strict (0) to generous (2): hairlines and worn foil break
/// letters into pieces that only a lower threshold (kept where it joins strong foil) or a closing
/// puts together.
cv::Mat MaskOf(const separate::ContrastMap& map, int generosity) {
  constexpr double kWeak = 0.45;  // of Otsu's threshold
  cv::Mat strong = map.contrast > map.threshold;
  if (generosity == 0) return strong;
  const cv::Mat weak = map.contrast > kWeak * map.threshold;
  cv::Mat labels;
  const int count = cv::connectedComponents(weak, labels, 8, CV_32S);
  std::vector<unsigned char> keep(static_cast<std::size_t>(count), 0);
  for (int y = 0; y < labels.rows; ++y) {
    const int* label = labels.ptr<int>(y);
    const auto* on = strong.ptr<unsigned char>(y);
    for (int x = 0; x < labels.cols; ++x) {
      if (on[x] != 0) keep[static_cast<std::size_t>(label[x])] = 255;
    }
  }
  keep[0] = 0;
  cv::Mat joined(weak.size(), CV_8U);
  for (int y = 0; y < labels.rows; ++y) {
    const int* label = labels.ptr<int>(y);
    auto* out = joined.ptr<unsigned char>(y);
    for (int x = 0; x < labels.cols; ++x) out[x] = keep[static_cast<std::size_t>(label[x])];
  }
  if (generosity == 1) return joined;
  cv::Mat closed;
  cv::morphologyEx(joined, closed, cv::MORPH_CLOSE,
                   cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(5, 5)));
  return closed;
}

/// Share of the parts matched above which a map's best candidate is worth trying at once.
constexpr double kAgrees = 0.65;

/// The reference's parts; those with touching letters as one are drawn when first asked for.
class Parts {
 public:
  explicit Parts(const outline::Lettering& lettering)
      : lettering_(lettering), apart_(ReferenceParts(lettering, Touching::kApart)) {}

  const std::vector<ReferencePart>& Apart() const { return apart_; }
  /// Empty where no letters touch.
  const std::vector<ReferencePart>& Joined() {
    if (!joined_) {
      joined_ = ReferenceParts(lettering_, Touching::kJoined);
      if (joined_->size() == apart_.size()) joined_->clear();
    }
    return *joined_;
  }

 private:
  const outline::Lettering& lettering_;
  std::vector<ReferencePart> apart_;
  std::optional<std::vector<ReferencePart>> joined_;
};

/// Candidates in one map, what they came from left in `search`; more generous masks, and touching
/// letters as one, only where the stricter do not agree.
std::vector<PlacementCandidate> SearchMap(const separate::ContrastMap& map, Parts& parts,
                                          RoughSearch& search) {
  std::vector<PlacementCandidate> candidates;
  /// True where the new candidates agree well.
  const auto agree = [&](const std::vector<ReferencePart>& reference) {
    if (reference.empty()) return false;
    search.parts = reference;
    const auto more = SearchPlacement(search.components, reference);
    candidates.insert(candidates.end(), more.begin(), more.end());
    return std::any_of(more.begin(), more.end(), [](const auto& c) { return c.matched > kAgrees; });
  };
  for (int generosity = 0; generosity < 3; ++generosity) {
    search.components = reading::FindComponents(MaskOf(map, generosity), {}, nullptr);
    if (agree(parts.Apart()) || agree(parts.Joined())) break;
  }
  return candidates;
}

RoughPlacement InPhoto(const PlacementCandidate& candidate, double scale) {
  RoughPlacement r;
  Eigen::Matrix3d affine = Eigen::Matrix3d::Identity();
  affine.topRows<2>() = candidate.map_from_stamp;
  Eigen::Matrix3d photo_from_map = Eigen::Matrix3d::Identity();
  photo_from_map(0, 0) = photo_from_map(1, 1) = scale;
  photo_from_map(0, 2) = photo_from_map(1, 2) = 0.5 * scale - 0.5;
  r.photo_from_stamp.photo_from_stamp = photo_from_map * affine;
  r.matched = candidate.matched;
  return r;
}

/// Agreement of lettering below the least size that is worth telling of.
constexpr double kAgreesSmall = 0.6;

}  // namespace

RoughSearch SearchRough(const cv::Mat& bgr, const outline::Lettering& lettering, double min_cap_px,
                        Effort effort) {
  constexpr int kReducedSidePx = 512;
  const bool reduced = effort == Effort::kReduced;
  RoughSearch search;
  const int factor =
      reduced ? (std::max(bgr.cols, bgr.rows) + kReducedSidePx - 1) / kReducedSidePx : 1;
  if (reduced && (factor < 2 || std::min(bgr.cols, bgr.rows) < 16 * factor)) return search;
  const cv::Mat picture = reduced ? image::BlockMeans(bgr, factor) : bgr;
  Parts parts(lettering);
  const Point centre = outline::Bounds(lettering).centre();
  double best_small = kAgreesSmall;
  for (const double window : {0.25, 0.08}) {
    separate::ContrastOptions options;
    options.ground_window = window;
    const auto relative = separate::SubtractGround(picture, options);
    for (const auto polarity : {separate::Polarity::kSigned, separate::Polarity::kUnsigned,
                                separate::Polarity::kReversed}) {
      const auto map = separate::Contrast(relative, polarity);
      search.map_scale = factor * map.scale;
      for (const auto& c : SearchMap(map, parts, search)) {
        const RoughPlacement r = InPhoto(c, search.map_scale);
        const double cap = r.photo_from_stamp.ScaleAt(centre);
        if (cap >= min_cap_px) {
          if (!reduced || r.matched > kAgrees) search.placements.push_back(r);
        } else if (c.matched > best_small) {
          best_small = c.matched;
          search.too_small_px = cap;
          search.too_small = r;
        }
      }
      std::stable_sort(search.placements.begin(), search.placements.end(),
                       [](const auto& a, const auto& b) { return a.matched > b.matched; });
      const bool good = !search.placements.empty() && search.placements.front().matched > kAgrees;
      if (reduced || (effort == Effort::kQuick && good)) return search;
    }
  }
  search.exhausted = true;
  return search;
}

std::optional<RoughPlacement> SearchBeside(const RoughSearch& search, const cv::Rect& covered,
                                           const outline::Lettering& lettering, double min_cap_px) {
  constexpr double kLeastMatched = 0.6;
  std::vector<reading::Component> beside;
  for (const reading::Component& c : search.components) {
    const Eigen::Vector2d at = search.map_scale * c.centroid;
    if (!covered.contains(cv::Point(cvRound(at.x()), cvRound(at.y())))) beside.push_back(c);
  }
  for (const auto& candidate : SearchPlacement(beside, search.parts)) {
    if (candidate.matched < kLeastMatched) break;
    const RoughPlacement placed = InPhoto(candidate, search.map_scale);
    if (placed.photo_from_stamp.ScaleAt(outline::Bounds(lettering).centre()) >= min_cap_px) {
      return placed;
    }
  }
  return std::nullopt;
}

}  // namespace debossier::fit
