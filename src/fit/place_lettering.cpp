#include "fit/place_lettering.h"

#include <fmt/format.h>

#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "fit/draw_lettering.h"
#include "fit/refine_placement.h"
#include "fit/rough_search.h"

namespace debossier::fit {

namespace {

/// Refines the best few candidates and keeps the one that explains most of the foil about it. What
/// leads to a place that was tried already is passed over.
Result<PlaceReport> RefineBest(const cv::Mat& bgr, const outline::Lettering& lettering,
                               const std::vector<RoughPlacement>& rough,
                               const PlaceOptions& options) {
  constexpr int kMostTried = 6;
  constexpr double kSurely = 0.8;  // of the edges
  Result<PlaceReport> best = NotFound(0);
  const outline::Box box = outline::Bounds(lettering);
  struct Tried {
    Placement placement;
    double reach = 0;  ///< Cap heights about it from where the fit would end the same.
  };
  std::vector<Tried> tried;
  const auto leads_elsewhere = [&](const Placement& start) {
    return std::none_of(tried.begin(), tried.end(), [&](const Tried& t) {
      return SamePlace(t.placement, start, box, t.reach);
    });
  };
  constexpr double kSameStart = 0.04;  // cap heights at a corner: starts that lead to one place
  constexpr double kSameEnd = 0.12;    // a start this near to a place leads there
  int attempts = 0;
  std::size_t next = 0;
  for (; next < rough.size() && attempts < kMostTried; ++next) {
    const Placement& start = rough[next].photo_from_stamp;
    if (!leads_elsewhere(start)) continue;
    if (best && best->whole.edges_found > kSurely) break;
    ++attempts;
    auto report = RefinePlacement(bgr, lettering, start, options);
    tried.push_back({start, kSameStart});
    if (!report) continue;
    tried.push_back({report->photo_from_stamp, kSameEnd});
    if (best && report->explained <= best->explained) continue;
    report->matched = rough[next].matched;
    best = std::move(report);
  }
  for (; best && next < rough.size(); ++next) {
    const Placement& start = rough[next].photo_from_stamp;
    if (leads_elsewhere(start)) best->untried.push_back(start);
  }
  return best;
}

/// A place that explains this share of what the best one does is a stamp of its own.
constexpr double kAsExplained = 0.6;

/// Whether the lettering stands in the picture a second time: looked for in the map in which it was
/// found, with that place covered. The better place becomes the report's.
void LookAgain(const cv::Mat& bgr, const outline::Lettering& lettering, const RoughSearch& search,
               const PlaceOptions& options, PlaceReport& report) {
  constexpr double kMargin = 0.3;  // cap heights
  const cv::Rect all(0, 0, bgr.cols, bgr.rows);
  const cv::Rect covered = PlacedRect(report.photo_from_stamp, lettering, kMargin) & all;
  if (covered.empty() || 4 * covered.area() > 3 * all.area()) return;
  const auto beside = SearchBeside(search, covered, lettering, options.min_cap_height_px);
  if (!beside) return;
  auto second = RefinePlacement(bgr, lettering, beside->photo_from_stamp, options);
  if (!second || second->explained < kAsExplained * report.explained) return;
  if (second->explained > report.explained) std::swap(*second, report);
  report.others.push_back(second->photo_from_stamp);
}

/// True where the lettering is there, though too small to measure: small parts agree by chance, so
/// the candidate must bear refining on an enlarged cut-out.
bool IsThereButSmall(const cv::Mat& bgr, const outline::Lettering& lettering,
                     const RoughSearch& search, const PlaceOptions& options) {
  if (search.too_small_px <= 0) return false;
  constexpr double kEnlargedCapPx = 28;
  const double factor = kEnlargedCapPx / search.too_small_px;
  if (factor > 8) return false;
  const Placement& small = search.too_small.photo_from_stamp;
  const cv::Rect rect = PlacedRect(small, lettering, 2) & cv::Rect(0, 0, bgr.cols, bgr.rows);
  if (rect.width < 4 || rect.height < 4) return false;
  cv::Mat enlarged;
  cv::resize(bgr(rect), enlarged, cv::Size(), factor, factor, cv::INTER_CUBIC);
  Eigen::Matrix3d enlarge = Eigen::Matrix3d::Identity();
  enlarge(0, 0) = enlarge(1, 1) = factor;
  enlarge(0, 2) = factor * (0.5 - rect.x) - 0.5;
  enlarge(1, 2) = factor * (0.5 - rect.y) - 0.5;
  Placement start = small;
  start.photo_from_stamp = enlarge * start.photo_from_stamp;
  return RefinePlacement(enlarged, lettering, start, options).has_value();
}

/// What is looked at.
cv::Rect SeenPart(const cv::Mat& bgr, const PlaceOptions& options) {
  const cv::Rect all(0, 0, bgr.cols, bgr.rows);
  return options.crop.empty() ? all : options.crop & all;
}

}  // namespace

void MoveBy(const cv::Point& offset, PlaceReport& report) {
  report.photo_from_stamp = SeenFrom(-offset, report.photo_from_stamp);
  report.coverage.grid.origin += offset;
  for (Placement& other : report.others) other = SeenFrom(-offset, other);
  for (Placement& start : report.untried) start = SeenFrom(-offset, start);
}

std::optional<PlaceReport> BetterPlace(const cv::Mat& bgr, const outline::Lettering& lettering,
                                       const PlaceOptions& options, const PlaceReport& placed) {
  if (placed.untried.empty()) return std::nullopt;
  const cv::Rect crop = SeenPart(bgr, options);
  auto report =
      RefinePlacement(bgr(crop), lettering, SeenFrom(crop.tl(), placed.untried.front()), options);
  if (!report || report->explained <= placed.explained) return std::nullopt;
  MoveBy(crop.tl(), *report);
  if (placed.explained >= kAsExplained * report->explained) {
    report->others = {placed.photo_from_stamp};
  }
  return std::move(*report);
}

Result<PlaceReport> PlaceLettering(const cv::Mat& bgr, const outline::Lettering& lettering,
                                   const PlaceOptions& options) {
  const cv::Rect crop = SeenPart(bgr, options);
  if (crop.width < 16 || crop.height < 16) {
    return Refuse(ErrorCode::kUsage, "fit", "", "the crop lies outside the photo",
                  fmt::format("give x,y,width,height within {} x {} pixels", bgr.cols, bgr.rows));
  }
  const cv::Mat seen = bgr(crop);  // what lies outside is neither looked at nor measured
  RoughSearch search;
  bool small_lettering = false;
  // Most photos agree with the set at the first and cheapest look; where it leads nowhere, the next
  // one looks harder.
  for (const Effort effort : {Effort::kReduced, Effort::kQuick, Effort::kExhaustive}) {
    if (search.exhausted) break;
    search = SearchRough(seen, lettering, options.min_cap_height_px, effort);
    auto report = RefineBest(seen, lettering, search.placements, options);
    if (report) {
      LookAgain(seen, lettering, search, options, *report);
      MoveBy(crop.tl(), *report);
      return report;
    }
    if (!search.exhausted) continue;
    small_lettering = IsThereButSmall(seen, lettering, search, options);
    if (!small_lettering && !search.placements.empty()) return report;
  }
  if (small_lettering) {
    return Refuse(ErrorCode::kPhotoTooSmall, "fit", "",
                  fmt::format("the lettering is {:.0f} pixels high", search.too_small_px),
                  fmt::format("photograph it closer: at least {:.0f} pixels a capital, 80 or more "
                              "for a good answer",
                              options.min_cap_height_px));
  }
  return Refuse(ErrorCode::kNoStamp, "fit", "", "no stamped lettering like the set's was seen",
                "check that the photo shows the stamp; crop to it, or photograph it closer and in "
                "softer light");
}

}  // namespace debossier::fit
