#include "fit/place_lettering.h"

#include <fmt/format.h>
#include <Eigen/Cholesky>
#include <Eigen/LU>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "fit/find_element.h"
#include "layout/components.h"
#include "layout/placement_search.h"
#include "separate/contrast.h"
#include "separate/raster.h"

namespace debossier::fit {

namespace {

/// Rectangle of photo pixels around the placed lettering with `margin` cap heights around.
cv::Rect PlacedRect(const Placement& placement, const outline::Lettering& lettering,
                    double margin) {
  const outline::Box box = outline::Bounds(lettering);
  outline::Box placed;
  for (const double x : {box.min.x() - margin, box.centre().x(), box.max.x() + margin}) {
    for (const double y : {box.min.y() - margin, box.max.y() + margin}) {
      placed.Add(placement.ToPhoto({x, y}));
    }
  }
  const auto clamp = [](double v) { return static_cast<int>(std::clamp(v, -1e6, 1e6)); };
  return {clamp(placed.min.x()), clamp(placed.min.y()), clamp(placed.width()) + 2,
          clamp(placed.height()) + 2};
}

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

struct Labels {
  cv::Mat foil;
  cv::Mat ground;
};

/// Pixels that are surely foil and surely ground where the placed outlines say so.
Labels LabelPixels(const Placement& map_from_stamp, const outline::Lettering& lettering,
                   const std::vector<ElementFit>& moved, const cv::Size& size, double cap_px) {
  cv::Mat mask = cv::Mat::zeros(size, CV_8U);
  const auto draw = [&](const outline::Outline& outline, const outline::Affine& move) {
    auto polygons = outline::Flatten(outline, 0.3 / cap_px);
    for (auto& polygon : polygons) {
      for (auto& p : polygon) p = map_from_stamp.ToPhoto(move * p);
    }
    separate::FillPolygons(polygons, mask);
  };
  for (std::size_t i = 0; i < lettering.elements.size(); ++i) {
    const bool use = i < moved.size() && moved[i].found;
    draw(lettering.elements[i].outline, use ? MoveOf(moved[i]) : outline::Affine{});
  }
  draw(outline::FrameOutline(lettering.frame), {});
  Labels labels;
  cv::Mat inside;
  cv::distanceTransform(mask, inside, cv::DIST_L2, 3);
  labels.foil = inside > 1.2f;
  // Hairlines have no core: where little would be left, the whole stroke serves.
  if (cv::countNonZero(labels.foil) < cv::countNonZero(mask) / 4) labels.foil = mask;
  cv::Mat outside;
  cv::distanceTransform(mask == 0, outside, cv::DIST_L2, 3);
  const double near = std::max(2.0, 0.06 * cap_px);
  labels.ground = (outside > near) & (outside < 1.0 * cap_px);
  return labels;
}

/// Corrects the whole from its elements: each gives its shift and scales, with a Student weight.
void CorrectFromElements(const std::vector<ElementFit>& elements,
                         const outline::Lettering& lettering, const WholeOptions& options,
                         Placement& placement) {
  constexpr double kShiftSpread = 0.004;  // natural spread of letters on real goods, cap heights
  constexpr double kScaleSpread = 0.008;
  constexpr double kSlantSpread = 0.02;
  constexpr double kDegrees = 3;  // of the Student weights
  const Point centre = outline::Bounds(lettering).centre();
  Placement corrected = placement;
  WarpIncrement total = WarpIncrement::Zero();
  double gain_sum = 0;
  for (int round = 0; round < 4; ++round) {
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(8, 8);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(8);
    gain_sum = 0;
    double gain_weight = 1e-9;
    for (const auto& e : elements) {
      if (!e.found) continue;
      // Rows of (shift x, shift y, log scale x, log scale y, slant) in the increment.
      Eigen::Matrix<double, 5, 8> rows;
      const Point d = e.centre - centre;
      rows.row(0) = WarpRow(e.centre, {1, 0}, centre).transpose();
      rows.row(1) = WarpRow(e.centre, {0, 1}, centre).transpose();
      rows.row(2) << 0, 1, 0, 0, 0, 0, 2 * d.x(), d.y();
      rows.row(3) << 0, 0, 0, 0, 0, 1, d.x(), 2 * d.y();
      rows.row(4) << 0, 0, 1, 0, 0, 0, 0, d.x();
      const Eigen::Matrix<double, 5, 1> seen = e.value.head<5>();
      Eigen::Matrix<double, 5, 5> covariance = e.covariance.topLeftCorner<5, 5>();
      Eigen::Matrix<double, 5, 1> spread;
      spread << kShiftSpread, kShiftSpread, kScaleSpread, kScaleSpread, kSlantSpread;
      covariance.diagonal() += spread.cwiseAbs2();
      const Eigen::Matrix<double, 5, 5> information = covariance.inverse();
      const Eigen::Matrix<double, 5, 1> residual = seen - rows * total;
      const double distance = residual.dot(information * residual);
      const double w = (kDegrees + 5) / (kDegrees + distance);
      normal += w * rows.transpose() * information * rows;
      right += w * rows.transpose() * information * seen;
      const double g = w / (e.covariance(kOwnGain, kOwnGain) + 1e-6);
      gain_sum += g * e.value[kOwnGain];
      gain_weight += g;
    }
    gain_sum /= gain_weight;
    // The priors act on the absolute shape, so they see the placement before the increment.
    AddWarpPrior(placement, centre, options, normal, right);
    normal.diagonal().array() += 1e-9;
    const Eigen::VectorXd step = normal.ldlt().solve(right);
    if (!step.allFinite()) return;
    total = step;
  }
  ApplyIncrement(total, centre, corrected);
  corrected.gain += gain_sum;
  placement = corrected;
}

struct Attempt {
  PlaceReport report;
  double cap_px = 0;  ///< Map pixels per cap height.
};

Attempt Prepare(const cv::Mat& bgr, const outline::Lettering& lettering,
                const Placement& photo_from_stamp, const PlaceOptions& options, cv::Mat* cut) {
  Attempt attempt;
  const Point centre = outline::Bounds(lettering).centre();
  const double photo_cap = photo_from_stamp.ScaleAt(centre);
  const double reduction = std::max(1.0, photo_cap / options.max_map_px_per_cap);
  const cv::Rect wanted = PlacedRect(photo_from_stamp, lettering, 1.2);
  separate::PixelGrid grid;
  const cv::Rect photo(0, 0, bgr.cols, bgr.rows);
  if ((wanted & photo).area() < 100) return attempt;
  *cut = separate::CutOut(bgr, wanted, reduction, &grid);
  attempt.report.coverage.grid = grid;
  attempt.report.map_from_stamp = InMap(photo_from_stamp, grid);
  attempt.cap_px = photo_cap / std::max(grid.scale_x, 1.0);
  return attempt;
}

void LearnAndFit(const cv::Mat& cut, const outline::Lettering& lettering, double first_window,
                 double last_window, const PlaceOptions& options, Attempt& attempt) {
  PlaceReport& r = attempt.report;
  const Labels labels =
      LabelPixels(r.map_from_stamp, lettering, r.elements, cut.size(), attempt.cap_px);
  r.coverage =
      separate::GuidedCoverage(cut, r.coverage.grid, labels.foil, labels.ground, attempt.cap_px);
  WholeOptions whole = options.whole;
  whole.free_aspect = options.free_aspect;
  r.whole =
      FitWhole(r.coverage.alpha, lettering, r.map_from_stamp, first_window, last_window, whole);
  r.map_from_stamp = r.whole.placement;
}

/// Height of the element's line, or of the mark itself, in cap heights of the wordmark: 0.15 to 1.
double SizeOfElement(const outline::Lettering& lettering, const outline::Element& element) {
  const outline::Line& line = lettering.lines[element.line_idx];
  double height = line.cap_height > 0 ? line.cap_height : line.x_height / 0.7;
  if (element.kind == outline::ElementKind::kMark) {
    height = outline::Bounds(element.outline).height();
  }
  return height > 0 ? std::clamp(height, 0.15, 1.0) : 1.0;
}

/// A fit that found its edges about everywhere and tightly needs no search.
bool LooksMisplaced(const ElementFit& fit, outline::ElementKind kind, double size) {
  const double shift = std::hypot(fit.value[kShiftX], fit.value[kShiftY]);
  const double least = kind == outline::ElementKind::kMark ? 0.9 : 0.8;
  return !fit.found || fit.edges_found < least || fit.residual > 0.03 * size || shift > 0.09 * size;
}

/// Searches around and keeps the new fit where it explains more of the outline.
ElementFit FitAfterSearch(const EdgeReader& reader, const outline::Element& element,
                          const ElementOptions& options, ElementFit before) {
  FindOptions find;
  const double height = outline::Bounds(element.outline).height();
  double least_score = 0.5;
  if (element.kind == outline::ElementKind::kMark) {
    find.reach_x = 0.9;
    find.reach_y = 0.5;
    find.least_scale = 0.75;
    find.most_scale = 1.35;
    find.scales = 5;
    least_score = 0.35;
  } else {
    // Less than half an advance: further off stands the neighbour, whose strokes are like this
    // one's.
    const double width = outline::Bounds(element.outline).width();
    find.reach_x = std::min(0.35 * std::max(0.3, height), 0.45 * width + 0.03);
    find.reach_y = 0.2 * std::max(0.3, height);
    find.step = 0.03;
  }
  const FoundElement found = FindElement(reader, element.outline, find);
  if (found.score < least_score) return before;
  ElementFit after = FitElement(reader, element.outline, found.start, options);
  // Worn letters find part of their edges where they belong; a moved one must do clearly better.
  const auto quality = [](const ElementFit& f) {
    return f.found ? f.edges_found - 8 * f.residual : -1.0;
  };
  return quality(after) > quality(before) + 0.15 ? after : before;
}

/// Fits every element; a second pass starts from where the first found them, so that the search
/// runs once.
void FitElements(const outline::Lettering& lettering, const PlaceOptions& options, bool search,
                 double step, Attempt& attempt) {
  PlaceReport& r = attempt.report;
  const EdgeReader reader(r.coverage.alpha, r.map_from_stamp);
  ElementOptions element = options.element;
  element.map_px_per_cap = attempt.cap_px;
  std::vector<ElementFit> fits;
  for (std::size_t i = 0; i < lettering.elements.size(); ++i) {
    const auto& e = lettering.elements[i];
    // Small lettering: the window and the spacing of the samples shrink with it, or the search
    // along the normal would reach the letter's other side.
    const double size = SizeOfElement(lettering, e);
    element.window =
        std::clamp(options.element.window * size, 3.5 / attempt.cap_px, options.element.window);
    element.step = std::max(step * size, 0.5 / attempt.cap_px);
    const bool known = i < r.elements.size() && r.elements[i].found;
    const ElementVector start = known ? r.elements[i].value : ElementVector(ElementVector::Zero());
    const outline::Box box = outline::Bounds(e.outline);
    // Dots and the like: too little outline to tell size from gain and place.
    const bool tiny = std::max(box.width(), box.height()) < 0.3 * size;
    element.scale_sd = tiny ? 0.06 : options.element.scale_sd;
    ElementFit fit = FitElement(reader, e.outline, start, element);
    if (search && LooksMisplaced(fit, e.kind, size)) {
      fit = FitAfterSearch(reader, e, element, std::move(fit));
    }
    fits.push_back(std::move(fit));
  }
  r.elements = std::move(fits);
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

/// Share of the best line's letters that sit well: near their place, of about their size, with
/// their edges. A line in another case or face leaves the others to stand for the lettering.
double BestLineShare(const outline::Lettering& lettering, const std::vector<ElementFit>& elements) {
  std::vector<double> well(lettering.lines.size(), 0);
  std::vector<double> all(lettering.lines.size(), 0);
  for (std::size_t i = 0; i < elements.size(); ++i) {
    const ElementFit& e = elements[i];
    const int line = lettering.elements[i].line_idx;
    all[line] += 1;
    const double shift = std::hypot(e.value[kShiftX], e.value[kShiftY]);
    const bool sized = std::abs(e.value[kLogScaleX]) < 0.2 && std::abs(e.value[kLogScaleY]) < 0.2;
    well[line] += e.found && e.edges_found > 0.75 && e.residual < 0.03 && shift < 0.25 && sized;
  }
  double best = 0;
  for (std::size_t l = 0; l < all.size(); ++l) {
    if (all[l] >= 2) best = std::max(best, well[l] / all[l]);
  }
  return best;
}

Unexpected NotFound(double share) {
  return Refuse(
      ErrorCode::kLetteringNotFound, "fit", "",
      fmt::format("this lettering was not found (the best place fits {:.0f} % of it)", 100 * share),
      "check that the photo shows the lettering of this set; crop to the stamp, or "
      "photograph it closer, sharper and without glare");
}

}  // namespace

Result<PlaceReport> RefinePlacement(const cv::Mat& bgr, const outline::Lettering& lettering,
                                    const Placement& photo_from_stamp,
                                    const PlaceOptions& options) {
  cv::Mat cut;
  Attempt attempt = Prepare(bgr, lettering, photo_from_stamp, options, &cut);
  if (cut.empty()) return NotFound(0);
  LearnAndFit(cut, lettering, 0.16, 0.08, options, attempt);
  double edges = BestLineEdges(lettering, attempt, 0.08);
  if (edges < 0.3) return NotFound(edges);
  LearnAndFit(cut, lettering, 0.08, 0.06, options, attempt);
  edges = BestLineEdges(lettering, attempt, 0.06);
  if (edges < options.min_edges_found) return NotFound(edges);
  WholeOptions whole = options.whole;
  whole.free_aspect = options.free_aspect;
  FitElements(lettering, options, true, 0.04, attempt);
  CorrectFromElements(attempt.report.elements, lettering, whole, attempt.report.map_from_stamp);
  FitElements(lettering, options, false, 0.04, attempt);
  CorrectFromElements(attempt.report.elements, lettering, whole, attempt.report.map_from_stamp);
  FitElements(lettering, options, false, options.element.step, attempt);
  const double share = BestLineShare(lettering, attempt.report.elements);
  if (share < options.min_letters_well) return NotFound(share);
  attempt.report.photo_from_stamp =
      InPhoto(attempt.report.map_from_stamp, attempt.report.coverage.grid);
  return std::move(attempt.report);
}

namespace {

struct RoughPlacement {
  Placement photo_from_stamp;
  double matched = 0;
};

/// One of three masks of a map, from strict (0) to generous (2): hairlines and worn foil break
/// letters into pieces that only a lower threshold (kept where it joins strong foil) or a closing
/// puts together.
cv::Mat MaskOf(const separate::ContrastMap& map, int generosity) {
  const cv::Mat strong = map.contrast > map.threshold;
  if (generosity == 0) return strong;
  const cv::Mat weak = map.contrast > 0.45 * map.threshold;
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

struct RoughSearch {
  std::vector<RoughPlacement> placements;  ///< Best first.
  double too_small_px = 0;  ///< Cap height of the best agreement below the least size; 0: none.
};

/// Candidates over windows of the ground and polarities of the foil. Stops at the first map with a
/// good agreement unless `exhaustive`.
RoughSearch SearchRough(const cv::Mat& bgr, const outline::Lettering& lettering, double min_cap_px,
                        bool exhaustive) {
  const auto apart = layout::ReferenceParts(lettering, layout::Touching::kApart);
  const auto joined = layout::ReferenceParts(lettering, layout::Touching::kJoined);
  const Point centre = outline::Bounds(lettering).centre();
  RoughSearch search;
  double best_small = 0.6;
  for (const double window : {0.25, 0.08}) {
    separate::ContrastOptions contrast_options;
    contrast_options.ground_window = window;
    const auto relative = separate::SubtractGround(bgr, contrast_options);
    for (const auto polarity : {separate::Polarity::kSigned, separate::Polarity::kUnsigned,
                                separate::Polarity::kReversed}) {
      const auto map = separate::Contrast(relative, polarity);
      std::vector<layout::PlacementCandidate> candidates;
      for (int generosity = 0; generosity < 3; ++generosity) {
        const auto components = layout::FindComponents(MaskOf(map, generosity), {}, nullptr);
        for (const auto* parts : {&apart, &joined}) {
          if (parts == &joined && joined.size() == apart.size()) continue;
          const auto more = layout::SearchPlacement(components, *parts);
          candidates.insert(candidates.end(), more.begin(), more.end());
        }
        const bool good = std::any_of(candidates.begin(), candidates.end(),
                                      [](const auto& c) { return c.matched > kAgrees; });
        if (good) break;
      }
      for (const auto& c : candidates) {
        RoughPlacement r;
        Eigen::Matrix3d affine = Eigen::Matrix3d::Identity();
        affine.topRows<2>() = c.map_from_stamp;
        Eigen::Matrix3d photo_from_map = Eigen::Matrix3d::Identity();
        photo_from_map(0, 0) = photo_from_map(1, 1) = map.scale;
        photo_from_map(0, 2) = photo_from_map(1, 2) = 0.5 * map.scale - 0.5;
        r.photo_from_stamp.photo_from_stamp = photo_from_map * affine;
        r.matched = c.matched;
        const double cap = r.photo_from_stamp.ScaleAt(centre);
        if (cap >= min_cap_px) {
          search.placements.push_back(r);
        } else if (c.matched > best_small) {
          best_small = c.matched;
          search.too_small_px = cap;
        }
      }
      std::stable_sort(search.placements.begin(), search.placements.end(),
                       [](const auto& a, const auto& b) { return a.matched > b.matched; });
      if (!exhaustive && !search.placements.empty() &&
          search.placements.front().matched > kAgrees) {
        return search;
      }
    }
  }
  return search;
}

/// Refines the best few candidates and keeps the one whose outline finds most edges.
Result<PlaceReport> RefineBest(const cv::Mat& bgr, const outline::Lettering& lettering,
                               const std::vector<RoughPlacement>& rough,
                               const PlaceOptions& options) {
  constexpr std::size_t kMostTried = 4;
  Result<PlaceReport> best = NotFound(0);
  double best_edges = 0;
  for (std::size_t i = 0; i < std::min(kMostTried, rough.size()); ++i) {
    auto report = RefinePlacement(bgr, lettering, rough[i].photo_from_stamp, options);
    if (!report || report->whole.edges_found <= best_edges) continue;
    best_edges = report->whole.edges_found;
    report->matched = rough[i].matched;
    best = std::move(report);
    if (best_edges > 0.8) break;
  }
  return best;
}

}  // namespace

Result<PlaceReport> PlaceLettering(const cv::Mat& bgr, const outline::Lettering& lettering,
                                   const PlaceOptions& options) {
  const cv::Rect all(0, 0, bgr.cols, bgr.rows);
  const cv::Rect crop = options.crop.empty() ? all : options.crop & all;
  if (crop.width < 16 || crop.height < 16) {
    return Refuse(ErrorCode::kUsage, "fit", "", "the crop lies outside the photo",
                  fmt::format("give x,y,width,height within {} x {} pixels", bgr.cols, bgr.rows));
  }
  Eigen::Matrix3d from_crop = Eigen::Matrix3d::Identity();
  from_crop(0, 2) = crop.x;
  from_crop(1, 2) = crop.y;
  RoughSearch search;
  // The quick search ends at the first map that agrees; where that leads nowhere, all maps are
  // tried.
  for (const bool exhaustive : {false, true}) {
    search = SearchRough(bgr(crop), lettering, options.min_cap_height_px, exhaustive);
    for (auto& r : search.placements) {
      r.photo_from_stamp.photo_from_stamp = from_crop * r.photo_from_stamp.photo_from_stamp;
    }
    auto report = RefineBest(bgr, lettering, search.placements, options);
    if (report) return report;
    if (exhaustive && !search.placements.empty() && search.too_small_px == 0) return report;
  }
  if (search.too_small_px > 0) {
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
