#include "fit/place_lettering.h"

#include <fmt/format.h>
#include <Eigen/Cholesky>
#include <Eigen/LU>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "fit/draw_lettering.h"
#include "fit/fit_elements.h"
#include "fit/label_pixels.h"
#include "fit/outer_form.h"
#include "fit/rough_search.h"
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

/// Middles of the boxes of the lines' letters.
std::vector<Point> LineCentres(const outline::Lettering& lettering) {
  std::vector<outline::Box> boxes(lettering.lines.size());
  for (const auto& e : lettering.elements) {
    if (e.kind == outline::ElementKind::kLetter) boxes[e.line_idx].Add(outline::Bounds(e.outline));
  }
  std::vector<Point> centres;
  centres.reserve(boxes.size());
  for (const auto& box : boxes) centres.push_back(box.empty() ? Point(0, 0) : box.centre());
  return centres;
}

/// What an element's (shift x, shift y, log scale x, log scale y, slant) say of the increment of
/// the whole and, for lines after the first, of their own size and place.
Eigen::MatrixXd CorrectionRows(const ElementFit& e, int line, const Point& centre,
                               const std::vector<Point>& line_centres, Eigen::Index unknowns) {
  Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(5, unknowns);
  const Point d = e.centre - centre;
  rows.row(0).head<8>() = WarpRow(e.centre, {1, 0}, centre).transpose();
  rows.row(1).head<8>() = WarpRow(e.centre, {0, 1}, centre).transpose();
  rows.row(2).head<8>() << 0, 1, 0, 0, 0, 0, 2 * d.x(), d.y();
  rows.row(3).head<8>() << 0, 0, 0, 0, 0, 1, d.x(), 2 * d.y();
  rows.row(4).head<8>() << 0, 0, 1, 0, 0, 0, 0, d.x();
  if (line > 0) {
    const Eigen::Index k = 8 + 3 * (line - 1);
    const Point own = e.centre - line_centres[static_cast<std::size_t>(line)];
    rows(0, k) = own.x();
    rows(1, k) = own.y();
    rows(2, k) = rows(3, k) = 1;
    rows(0, k + 1) = rows(1, k + 2) = 1;
  }
  return rows;
}

/// The sizes and places of lines after the first, all but fixed where they may not move.
void AddLinePrior(bool lines_move, Eigen::MatrixXd& normal) {
  constexpr double kSizeSpread = 0.1;
  constexpr double kPlaceSpread = 0.3;  // cap heights
  constexpr double kFixed = 1e-6;
  const double size = lines_move ? kSizeSpread : kFixed;
  const double place = lines_move ? kPlaceSpread : kFixed;
  for (Eigen::Index k = 8; k < normal.rows(); k += 3) {
    normal(k, k) += 1 / (size * size);
    normal(k + 1, k + 1) += 1 / (place * place);
    normal(k + 2, k + 2) += 1 / (place * place);
  }
}

/// A fit's covariance with what letters of real goods spread by.
Eigen::Matrix<double, 5, 5> WithNaturalSpread(const ElementMatrix& covariance) {
  constexpr double kShift = 0.004;  // cap heights
  constexpr double kScale = 0.008;
  constexpr double kSlant = 0.02;
  Eigen::Matrix<double, 5, 5> spread = covariance.topLeftCorner<5, 5>();
  Eigen::Matrix<double, 5, 1> natural;
  natural << kShift, kShift, kScale, kScale, kSlant;
  spread.diagonal() += natural.cwiseAbs2();
  return spread;
}

/// Corrects the whole from its elements: each gives its shift and scales, with a Student weight.
/// Every line after the first also has a size and a place of its own, which the whole must not
/// take up: a larger origin line looks like tilt, and tilt would hide it.
void CorrectFromElements(const std::vector<ElementFit>& elements,
                         const outline::Lettering& lettering, const WholeOptions& options,
                         Placement& placement) {
  constexpr double kDegrees = 3;  // of the Student weights
  const Point centre = outline::Bounds(lettering).centre();
  const std::vector<Point> line_centres = LineCentres(lettering);
  const Eigen::Index unknowns = 8 + 3 * (static_cast<Eigen::Index>(line_centres.size()) - 1);
  Eigen::VectorXd all = Eigen::VectorXd::Zero(unknowns);
  Placement corrected = placement;
  WarpIncrement total = WarpIncrement::Zero();
  double gain_sum = 0;
  for (int round = 0; round < 2; ++round) {
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(unknowns, unknowns);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(unknowns);
    AddLinePrior(options.lines_move, normal);
    gain_sum = 0;
    double gain_weight = 1e-9;
    for (std::size_t i = 0; i < elements.size(); ++i) {
      const ElementFit& e = elements[i];
      if (!e.found) continue;
      const Eigen::MatrixXd rows =
          CorrectionRows(e, lettering.elements[i].line_idx, centre, line_centres, unknowns);
      const Eigen::Matrix<double, 5, 1> seen = e.value.head<5>();
      const Eigen::Matrix<double, 5, 5> covariance = WithNaturalSpread(e.covariance);
      const Eigen::Matrix<double, 5, 5> information = covariance.inverse();
      const Eigen::Matrix<double, 5, 1> residual = seen - rows * all;
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
    all = step;
    total = step.head<8>();
  }
  ApplyIncrement(total, centre, corrected);
  corrected.gain += gain_sum;
  placement = corrected;
}

/// True where both put the corners of the lettering's box at the same place, to `tolerance` cap
/// heights.
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

/// The first fit, from a rough placement, on a copy of half the size where the lettering is large
/// enough for it. Returns the share of the best line's outline with an edge.
double FitCoarsely(const cv::Mat& cut, const outline::Lettering& lettering,
                   const PlaceOptions& options, Attempt& attempt) {
  constexpr double kLargeEnoughPx = 64;
  const double last_window = 0.08;
  const bool halve = attempt.cap_px >= kLargeEnoughPx && cut.cols >= 32 && cut.rows >= 32;
  if (!halve) {
    LearnAndFit(cut, lettering, 0.16, last_window, options, attempt);
    return BestLineEdges(lettering, attempt, last_window);
  }
  separate::PixelGrid grid;
  const cv::Rect whole(0, 0, cut.cols / 2 * 2, cut.rows / 2 * 2);
  const cv::Mat half = separate::CutOut(cut, whole, 2, 0, &grid);
  Attempt coarse;
  coarse.cap_px = attempt.cap_px / 2;
  coarse.report.map_from_stamp = InMap(attempt.report.map_from_stamp, grid);
  PlaceOptions sparse = options;
  sparse.whole.step = 2 * options.whole.step;
  LearnAndFit(half, lettering, 0.16, last_window, sparse, coarse);
  const double edges = BestLineEdges(lettering, coarse, last_window);
  attempt.report.map_from_stamp = InPhoto(coarse.report.map_from_stamp, grid);
  return edges;
}

/// Share of the best line's letters that sit well: near their place, of about their size, with
/// their edges. A line in another case or face leaves the others to stand for the lettering; an
/// origin line, which makers of one town share in part, counts for two thirds of a wordmark.
double BestLineShare(const outline::Lettering& lettering, const std::vector<ElementFit>& elements) {
  constexpr double kOriginLineCounts = 2.0 / 3;
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
    const double counts = l == 0 || all.size() == 1 ? 1.0 : kOriginLineCounts;
    if (all[l] >= 2) best = std::max(best, counts * well[l] / all[l]);
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
  double edges = FitCoarsely(cut, lettering, options, attempt);
  if (edges < 0.3) return NotFound(edges);
  LearnAndFit(cut, lettering, 0.08, 0.06, options, attempt);
  edges = BestLineEdges(lettering, attempt, 0.06);
  if (edges < options.min_edges_found) return NotFound(edges);
  WholeOptions whole = options.whole;
  whole.free_aspect = options.free_aspect;
  // The first passes serve the last, which starts from them.
  PlaceOptions rough = options;
  rough.element.settled_step = std::max(1e-3, options.element.settled_step);
  FitElements(lettering, rough, true, kRoughStep, attempt);
  const Placement before = attempt.report.map_from_stamp;
  CorrectFromElements(attempt.report.elements, lettering, whole, attempt.report.map_from_stamp);
  if (!SamePlace(before, attempt.report.map_from_stamp, outline::Bounds(lettering), 0.02)) {
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
  int attempts = 0;
  std::size_t next = 0;
  for (; next < rough.size() && attempts < kMostTried; ++next) {
    const Placement& start = rough[next].photo_from_stamp;
    if (!leads_elsewhere(start)) continue;
    if (best && best->whole.edges_found > kSurely) break;
    ++attempts;
    auto report = RefinePlacement(bgr, lettering, start, options);
    tried.push_back({start, 0.04});
    if (!report) continue;
    tried.push_back({report->photo_from_stamp, 0.12});
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
  const cv::Rect all(0, 0, bgr.cols, bgr.rows);
  const cv::Rect covered = PlacedRect(report.photo_from_stamp, lettering, 0.3) & all;
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
