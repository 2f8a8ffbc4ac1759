#include "fit/refine_placement.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "fit/correct_whole.h"
#include "fit/fit_elements.h"
#include "fit/label_pixels.h"
#include "fit/outer_form.h"
#include "fit/usual_place.h"
#include "fit/wear.h"

namespace debossier::fit {

namespace {

/// Photo pixels of a box of the stamp.
cv::Rect PixelsOf(const Placement& placement, const outline::Box& box) {
  outline::Box placed;
  for (const double x : {box.min.x(), box.centre().x(), box.max.x()}) {
    for (const double y : {box.min.y(), box.max.y()}) placed.Add(placement.ToPhoto({x, y}));
  }
  const auto clamp = [](double v) { return static_cast<int>(std::clamp(v, -1e6, 1e6)); };
  return {clamp(placed.min.x()), clamp(placed.min.y()), clamp(placed.width()) + 2,
          clamp(placed.height()) + 2};
}

/// What is cut out of the photo: the lettering, some leather about it, and wherever the mark may
/// stand.
cv::Rect CutAbout(const Placement& placement, const outline::Lettering& lettering) {
  constexpr double kMargin = 1;        // cap heights
  constexpr double kBeyondMark = 0.2;  // so that its ground is seen
  outline::Box box = outline::Bounds(lettering);
  box.min -= Point(kMargin, kMargin);
  box.max += Point(kMargin, kMargin);
  outline::Box reach = BoxOfReach(lettering);
  if (!reach.empty()) {
    reach.max += Point(kBeyondMark, kBeyondMark);
    reach.min -= Point(kBeyondMark, kBeyondMark);
    box.Add(reach);
  }
  return PixelsOf(placement, box);
}

}  // namespace

cv::Rect PlacedRect(const Placement& placement, const outline::Lettering& lettering,
                    double margin) {
  const outline::Box box = outline::Bounds(lettering);
  return PixelsOf(placement, {box.min - Point(margin, margin), box.max + Point(margin, margin)});
}

namespace {

Placement InMap(const Placement& photo_from_stamp, const separate::PixelGrid& grid) {
  Placement p = photo_from_stamp;
  p.photo_from_stamp = grid.PhotoFromMap().inverse() * p.photo_from_stamp;
  return p;
}

Placement InPhoto(const Placement& map_from_stamp, const separate::PixelGrid& grid) {
  Placement p = map_from_stamp;
  p.photo_from_stamp = grid.PhotoFromMap() * p.photo_from_stamp;
  return p;
}

Attempt Prepare(const cv::Mat& bgr, const outline::Lettering& lettering,
                const Placement& photo_from_stamp, const PlaceOptions& options, cv::Mat* cut) {
  Attempt attempt;
  const Point centre = outline::Bounds(lettering).centre();
  const double photo_cap = photo_from_stamp.ScaleAt(centre);
  const double reduction = std::max(1.0, photo_cap / options.max_map_px_per_cap);
  const cv::Rect wanted = CutAbout(photo_from_stamp, lettering);
  separate::PixelGrid grid;
  const cv::Rect photo(0, 0, bgr.cols, bgr.rows);
  if ((wanted & photo).area() < 100) return attempt;
  *cut = separate::CutOut(bgr, wanted, reduction, separate::SmoothingFor(photo_cap), &grid);
  attempt.report.coverage.grid = grid;
  attempt.report.map_from_stamp = InMap(photo_from_stamp, grid);
  attempt.cap_px = photo_cap / std::max(grid.scale_x, 1.0);
  return attempt;
}

/// Share of its outline on which the best line finds an edge: a line in another case or face must
/// not hide that the wordmark is there.
double BestLineEdges(const outline::Lettering& lettering, const Attempt& attempt, double window) {
  const EdgeReader reader(attempt.report.coverage.alpha, attempt.report.map_from_stamp);
  std::vector<double> found(lettering.lines.size(), 0);
  std::vector<double> all(lettering.lines.size(), 1e-9);
  std::vector<int> letters(lettering.lines.size(), 0);
  for (const auto& e : lettering.elements) {
    ++letters[e.line_idx];
    for (const auto& edge : ModelEdges(e.outline, 0.1)) {
      const auto r = reader.Read(edge.point, edge.normal, reader.placement().gain, window);
      all[e.line_idx] += edge.length;
      if (r.kind == EdgeReading::Kind::kEdge) found[e.line_idx] += edge.length;
    }
  }
  double best = 0;
  for (std::size_t l = 0; l < all.size(); ++l) {
    if (letters[l] >= 3 || all.size() == 1) best = std::max(best, found[l] / all[l]);
  }
  return best;
}

/// Learns foil and ground under the attempt's placement and fits the whole to the coverage.
void LearnAndFit(const cv::Mat& cut, const outline::Lettering& lettering, double first_window,
                 double last_window, const PlaceOptions& options, Attempt& attempt) {
  PlaceReport& r = attempt.report;
  attempt.labels = LabelPixels(r.map_from_stamp, lettering, r.elements, cut.size(), attempt.cap_px);
  r.coverage = separate::GuidedCoverage(cut, r.coverage.grid, attempt.labels.foil,
                                        attempt.labels.ground, attempt.cap_px);
  WholeOptions whole = options.whole;
  whole.free_aspect = options.free_aspect;
  r.whole =
      FitWhole(r.coverage.alpha, lettering, r.map_from_stamp, first_window, last_window, whole);
  r.map_from_stamp = r.whole.placement;
}

// How far from the outline an edge is looked for, cap heights: as far as rough placements err, then
// as far as the first fit does.
constexpr double kFirstWindow = 0.16;
constexpr double kCoarseWindow = 0.08;
constexpr double kLastWindow = 0.06;

/// The first fit, from a rough placement, on a copy of half the size where the lettering is large
/// enough for it. Returns the share of the best line's outline with an edge.
double FitCoarsely(const cv::Mat& cut, const outline::Lettering& lettering,
                   const PlaceOptions& options, Attempt& attempt) {
  constexpr double kLargeEnoughPx = 64;
  const bool halve = attempt.cap_px >= kLargeEnoughPx && cut.cols >= 32 && cut.rows >= 32;
  if (!halve) {
    LearnAndFit(cut, lettering, kFirstWindow, kCoarseWindow, options, attempt);
    return BestLineEdges(lettering, attempt, kCoarseWindow);
  }
  separate::PixelGrid grid;
  const cv::Rect whole(0, 0, cut.cols / 2 * 2, cut.rows / 2 * 2);
  const cv::Mat half = separate::CutOut(cut, whole, 2, 0, &grid);
  Attempt coarse;
  coarse.cap_px = attempt.cap_px / 2;
  coarse.report.map_from_stamp = InMap(attempt.report.map_from_stamp, grid);
  PlaceOptions sparse = options;
  sparse.whole.step = 2 * options.whole.step;
  LearnAndFit(half, lettering, kFirstWindow, kCoarseWindow, sparse, coarse);
  const double edges = BestLineEdges(lettering, coarse, kCoarseWindow);
  attempt.report.map_from_stamp = InPhoto(coarse.report.map_from_stamp, grid);
  return edges;
}

/// Share of the best line's letters that sit well: near their place, of about their size, with
/// their edges. A line in another case or face leaves the others to stand for the lettering; an
/// origin line, which makers of one town share in part, counts for two thirds of a wordmark.
double BestLineShare(const outline::Lettering& lettering, const std::vector<ElementFit>& elements) {
  constexpr double kOriginLineCounts = 2.0 / 3;
  constexpr double kEdges = 0.75;     // share of the outline
  constexpr double kResidual = 0.03;  // cap heights, as is
  constexpr double kShift = 0.25;
  constexpr double kSize = 0.2;  // logarithm
  std::vector<double> well(lettering.lines.size(), 0);
  std::vector<double> all(lettering.lines.size(), 0);
  for (std::size_t i = 0; i < elements.size(); ++i) {
    const ElementFit& e = elements[i];
    const int line = lettering.elements[i].line_idx;
    all[line] += 1;
    const double shift = std::hypot(e.value[kShiftX], e.value[kShiftY]);
    const bool sized =
        std::abs(e.value[kLogScaleX]) < kSize && std::abs(e.value[kLogScaleY]) < kSize;
    well[line] +=
        e.found && e.edges_found > kEdges && e.residual < kResidual && shift < kShift && sized;
  }
  double best = 0;
  for (std::size_t l = 0; l < all.size(); ++l) {
    const double counts = l == 0 || all.size() == 1 ? 1.0 : kOriginLineCounts;
    if (all[l] >= 2) best = std::max(best, counts * well[l] / all[l]);
  }
  return best;
}

}  // namespace

bool SamePlace(const Placement& a, const Placement& b, const outline::Box& box, double tolerance) {
  const double reach = tolerance * a.ScaleAt(box.centre());
  for (const double x : {box.min.x(), box.max.x()}) {
    for (const double y : {box.min.y(), box.max.y()}) {
      const Point corner(x, y);
      if ((a.ToPhoto(corner) - b.ToPhoto(corner)).norm() > reach) return false;
    }
  }
  return true;
}

Unexpected NotFound(double share) {
  return Refuse(
      ErrorCode::kLetteringNotFound, "fit", "",
      fmt::format("this lettering was not found (the best place fits {:.0f} % of it)", 100 * share),
      "check that the photo shows the lettering of this set; crop to the stamp, or "
      "photograph it closer, sharper and without glare");
}

Result<PlaceReport> RefinePlacement(const cv::Mat& bgr, const outline::Lettering& lettering,
                                    const Placement& photo_from_stamp,
                                    const PlaceOptions& options) {
  constexpr double kLeastAtFirst = 0.3;  // share of the best line's outline with an edge
  constexpr double kMoved = 0.02;        // cap heights at a corner: the elements are fitted again
  cv::Mat cut;
  Attempt attempt = Prepare(bgr, lettering, photo_from_stamp, options, &cut);
  if (cut.empty()) return NotFound(0);
  double edges = FitCoarsely(cut, lettering, options, attempt);
  if (edges < kLeastAtFirst) return NotFound(edges);
  LearnAndFit(cut, lettering, kCoarseWindow, kLastWindow, options, attempt);
  edges = BestLineEdges(lettering, attempt, kLastWindow);
  if (edges < options.min_edges_found) return NotFound(edges);
  WholeOptions whole = options.whole;
  whole.free_aspect = options.free_aspect;
  // The first passes serve the last, which starts from them.
  PlaceOptions rough = options;
  rough.element.settled_step = std::max(1e-3, options.element.settled_step);
  FitElements(lettering, rough, true, kRoughStep, attempt);
  const Placement before = attempt.report.map_from_stamp;
  CorrectFromElements(attempt.report.elements, lettering, whole, attempt.report.map_from_stamp);
  if (!SamePlace(before, attempt.report.map_from_stamp, outline::Bounds(lettering), kMoved)) {
    FitElements(lettering, rough, false, kRoughStep, attempt);
    CorrectFromElements(attempt.report.elements, lettering, whole, attempt.report.map_from_stamp);
  }
  // What blur does to edges is taken out last: the fits so far know the photo's blur.
  CompareWithRendering(lettering, rough, attempt);
  CorrectFromElements(attempt.report.elements, lettering, whole, attempt.report.map_from_stamp);
  FitElements(lettering, options, false, options.element.step, attempt);
  PreferUsualPlaces(lettering, options, attempt);
  CarryWear(attempt.report.elements);
  const double share = BestLineShare(lettering, attempt.report.elements);
  if (share < options.min_letters_well) return NotFound(share);
  LeaveOutCut(lettering, attempt);
  attempt.report.explained = ExplainedShare(attempt.report.coverage, attempt.report.rendered);
  attempt.report.photo_from_stamp =
      InPhoto(attempt.report.map_from_stamp, attempt.report.coverage.grid);
  attempt.report.cut = cut;
  attempt.report.free_aspect = options.free_aspect;
  return std::move(attempt.report);
}

}  // namespace debossier::fit
