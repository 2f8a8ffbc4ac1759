#include "fit/fit_elements.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <tuple>
#include <utility>

#include "base/quantile.h"
#include "fit/draw_lettering.h"
#include "fit/find_element.h"
#include "fit/natural_spread.h"
#include "fit/outer_form.h"
#include "fit/usual_place.h"
#include "outline/letter_class.h"

namespace debossier::fit {

namespace {

/// Height of the element's line, or of the mark itself, in cap heights of the wordmark: 0.15 to 1.
double SizeOfElement(const outline::Lettering& lettering, const outline::Element& element) {
  const outline::Line& line = lettering.lines[element.line_idx];
  double height = outline::NominalHeight(line);
  if (element.kind == outline::ElementKind::kMark) {
    height = outline::Bounds(element.outline).height();
  }
  constexpr double kLeast = 0.15;
  return height > 0 ? std::clamp(height, kLeast, 1.0) : 1.0;
}

/// Where an element may stand that is not in its usual place.
FindOptions ReachOf(const outline::Element& element, const ElementVector& usual) {
  constexpr double kStep = 0.03;  // cap heights
  // Less than half an advance: further off stands the neighbour, whose strokes are like this one's.
  constexpr double kOfHeight = 0.35;
  constexpr double kOfWidth = 0.45;
  constexpr double kAcross = 0.2;  // of the height
  constexpr double kLeastHeight = 0.3;
  FindOptions find;
  const outline::Box box = outline::Bounds(element.outline);
  find.about = usual.head<2>();
  find.step = kStep;
  if (element.kind == outline::ElementKind::kMark) {
    find.left = MarkReach::kLeft;
    find.right = MarkReach::kRight;
    find.reach_y = MarkReach::kBeside;
    find.least_scale = MarkReach::kLeastScale;
    find.most_scale = MarkReach::kMostScale;
    find.scales = MarkReach::kScales;
    find.pull = MarkReach::kPull;
    return find;
  }
  const double height = std::max(kLeastHeight, box.height());
  find.left = find.right = std::min(kOfHeight * height, kOfWidth * box.width() + kStep);
  find.reach_y = kAcross * height;
  return find;
}

/// A letter whose fit did not find its edges about everywhere and tightly may have moved: the whole
/// is placed better with what a search finds. What is said of it is decided later, by the pixels.
bool MayHaveMoved(const ElementFit& fit, double size) {
  constexpr double kEdges = 0.8;      // share of the outline
  constexpr double kResidual = 0.03;  // of the line's height, as is
  constexpr double kShift = 0.09;
  const double shift = std::hypot(fit.value[kShiftX], fit.value[kShiftY]);
  return !fit.found || fit.edges_found < kEdges || fit.residual > kResidual * size ||
         shift > kShift * size;
}

/// Searches around and keeps the new fit where it explains more of the outline.
ElementFit FitAfterSearch(const EdgeReader& reader, const outline::Element& element,
                          const SampledOutline& sampled, const ElementOptions& options,
                          ElementFit before) {
  constexpr double kLeastScore = 0.5;
  constexpr double kResidualCosts = 8;  // share of the outline a cap height
  constexpr double kClearly = 0.15;     // share of the outline
  const FoundElement found =
      FindElement(reader, element.outline, ReachOf(element, ElementVector::Zero()));
  if (found.score < kLeastScore) return before;
  ElementFit after = FitElement(reader, sampled, found.start, options);
  // Worn letters find part of their edges where they belong; a moved one must do clearly better.
  const auto quality = [](const ElementFit& f) {
    return f.found ? f.edges_found - kResidualCosts * f.residual : -1.0;
  };
  return quality(after) > quality(before) + kClearly ? after : before;
}

/// `settled`: the start is a fit already.
ElementOptions OptionsFor(const outline::Lettering& lettering, const outline::Element& e,
                          const PlaceOptions& options, double step, const Attempt& attempt,
                          bool settled) {
  constexpr double kLeastWindowPx = 3.5;
  constexpr double kLeastStepPx = 0.5;
  constexpr double kTiny = 0.3;          // of the line's height
  constexpr double kScaleOfTiny = 0.06;  // prior of the logarithm of its size
  ElementOptions element = options.element;
  element.map_px_per_cap = attempt.cap_px;
  // Small lettering: the window and the spacing of the samples shrink with it, or the search along
  // the normal would reach the letter's other side.
  const double size = SizeOfElement(lettering, e);
  element.window = std::clamp(options.element.window * size, kLeastWindowPx / attempt.cap_px,
                              options.element.window);
  element.step = std::max(step * size, kLeastStepPx / attempt.cap_px);
  // Dots and the like: too little outline to tell size from gain and place.
  const outline::Box box = outline::Bounds(e.outline);
  const bool tiny = std::max(box.width(), box.height()) < kTiny * size;
  element.scale_sd = tiny ? kScaleOfTiny : options.element.scale_sd;
  element.own_level = e.kind == outline::ElementKind::kMark;
  element.settled = settled;
  return element;
}

const SampledOutline& Sampled(const outline::Lettering& lettering, std::size_t idx, double step,
                              Attempt& attempt) {
  const auto found = attempt.sampled.find({idx, step});
  if (found != attempt.sampled.end()) return found->second;
  const outline::Element& element = lettering.elements[idx];
  const Point centre = outline::Bounds(element.outline).centre();
  return attempt.sampled.try_emplace({idx, step}, OuterForm(element), step, centre).first->second;
}

/// What the rendering shows of an element.
ReferenceReading ReadReference(const RenderedReference& rendered, const SampledOutline& outline,
                               std::size_t idx, const ElementOptions& options) {
  return rendered.empty() ? ReferenceReading()
                          : ReadReference(rendered, outline, rendered.values[idx], options);
}

/// Whether the fit lies about `usual`: no further off than its own uncertainty and what letters
/// stray on real goods allow.
bool IsAbout(const ElementFit& fit, const ElementVector& usual) {
  constexpr double kWider = 2;  // real bindings show as much
  constexpr double kDeviations = 2.5;
  for (const int k : {kShiftX, kShiftY, kLogScaleX, kLogScaleY}) {
    const double spread = kWider * (k == kShiftX || k == kShiftY ? kNaturalShift : kNaturalScale);
    const double variance = fit.covariance(k, k) + spread * spread;
    const double apart = fit.value[k] - usual[k];
    if (apart * apart > kDeviations * kDeviations * variance) return false;
  }
  return true;
}

/// How much more likely a place must be that was sought: odds of 55 to 1, and as much more as there
/// were places to choose from.
double SoughtClearly(const FindOptions& find, double clearly) {
  constexpr double kApart = 0.05;  // places closer than this are one, cap heights
  const double area = (find.left + find.right) * 2 * find.reach_y;
  return clearly + std::log(std::max(1.0, find.scales * area / (kApart * kApart)));
}

/// The coverage with ground where other elements and the frame stand: a mark is round as an O is.
cv::Mat WithoutOthers(const outline::Lettering& lettering, const PlaceReport& r, std::size_t idx) {
  constexpr float kTouched = 0.05f;
  cv::Mat others =
      DrawLettering(lettering, r.elements, r.map_from_stamp, r.coverage.alpha.size(), idx);
  cv::GaussianBlur(others, others, cv::Size(), std::max(0.5, r.rendered.blur_px));
  cv::Mat bare = r.coverage.alpha.clone();
  bare.setTo(0, others > kTouched);
  return bare;
}

/// The element in its usual place, where its fit has it, where a search has it, or nowhere: what
/// the pixels prefer, the usual place unless another is clearly more likely.
ElementFit MostLikely(const outline::Lettering& lettering, const PlaceOptions& options,
                      const ElementVector& usual, std::size_t idx, Attempt& attempt) {
  constexpr double kClearly = 4;            // log-likelihood
  constexpr double kMostUnexplained = 0.5;  // of the foil in its place
  constexpr double kWhole = 0.75;           // of the outline
  PlaceReport& r = attempt.report;
  const auto& element = lettering.elements[idx];
  const ElementFit& fitted = r.elements[idx];
  const EdgeReader reader(r.coverage.alpha, r.map_from_stamp);
  const ElementOptions own =
      OptionsFor(lettering, element, options, options.element.step, attempt, true);
  const SampledOutline& sampled = Sampled(lettering, idx, own.step, attempt);
  const ReferenceReading reference = ReadReference(r.rendered, sampled, idx, own);
  ElementFit in_place = FitElement(reader, sampled, usual, own, reference);
  const bool stays = in_place.found && IsAbout(in_place, usual);
  ElementFit unmoved;
  unmoved.centre = in_place.centre;
  unmoved.value = usual;
  const FindOptions find = ReachOf(element, usual);
  const cv::Mat bare = element.kind == outline::ElementKind::kMark
                           ? WithoutOthers(lettering, r, idx)
                           : r.coverage.alpha;
  const EdgeReader searched(bare, r.map_from_stamp);
  ElementFit sought = FitElement(
      reader, sampled, FindElement(searched, OuterForm(element), find).start, own, reference);
  const PlaceLikelihood likelihood(r.coverage, r.rendered, r.map_from_stamp, lettering, r.elements,
                                   idx);
  const auto e = likelihood.Of({stays ? &in_place : &unmoved, &fitted, &sought, nullptr});
  const PlaceEvidence& absent = e[3];
  struct Place {
    const ElementFit* fit;
    double log_likelihood;
  };
  std::vector<Place> moved;
  // The outer form of a mark, seen about whole, is where it is.
  const bool whole_mark =
      element.kind == outline::ElementKind::kMark && fitted.edges_found > kWhole;
  if (fitted.found) {
    moved.push_back({&fitted, e[1].log_likelihood - (whole_mark ? 0 : kClearly)});
  }
  if (sought.found && !IsAbout(sought, usual)) {
    moved.push_back({&sought, e[2].log_likelihood - SoughtClearly(find, kClearly)});
  }
  const auto best = std::max_element(
      moved.begin(), moved.end(),
      [](const Place& a, const Place& b) { return a.log_likelihood < b.log_likelihood; });
  if (best != moved.end() && best->log_likelihood > e[0].log_likelihood) {
    ElementFit out = *best->fit;
    out.found = best->log_likelihood > absent.log_likelihood;
    return out;
  }
  const bool there = e[0].log_likelihood > absent.log_likelihood + kClearly;
  in_place.found = stays && there;
  in_place.in_place = there && e[0].extra < kMostUnexplained * absent.extra;
  return in_place;
}

}  // namespace

void FitElements(const outline::Lettering& lettering, const PlaceOptions& options, bool search,
                 double step, Attempt& attempt) {
  PlaceReport& r = attempt.report;
  const EdgeReader reader(r.coverage.alpha, r.map_from_stamp);
  std::vector<ElementFit> fits;
  for (std::size_t i = 0; i < lettering.elements.size(); ++i) {
    const auto& e = lettering.elements[i];
    const bool known = i < r.elements.size() && r.elements[i].found;
    const ElementVector start = known ? r.elements[i].value : ElementVector(ElementVector::Zero());
    const ElementOptions element = OptionsFor(lettering, e, options, step, attempt, known);
    const SampledOutline& sampled = Sampled(lettering, i, element.step, attempt);
    ElementFit fit =
        FitElement(reader, sampled, start, element, ReadReference(r.rendered, sampled, i, element));
    const bool letter = e.kind == outline::ElementKind::kLetter;
    if (search && letter && MayHaveMoved(fit, SizeOfElement(lettering, e))) {
      fit = FitAfterSearch(reader, e, sampled, element, std::move(fit));
    }
    fits.push_back(std::move(fit));
  }
  r.elements = std::move(fits);
}

void CompareWithRendering(const outline::Lettering& lettering, const PlaceOptions& rough,
                          Attempt& attempt) {
  constexpr int kMostRounds = 3;
  constexpr double kSlightBlur = 0.025;  // cap heights: two rounds do
  constexpr double kSettled = 5e-4;      // cap heights
  PlaceReport& r = attempt.report;
  for (int round = 0; round < kMostRounds; ++round) {
    r.rendered = RenderReference(r.coverage, attempt.labels, r.map_from_stamp, lettering,
                                 r.elements, round == 0 ? Blurs::kOne : Blurs::kTwo);
    if (r.rendered.empty()) return;
    r.map_from_stamp.gain -= r.rendered.gain_apart;
    FitElements(lettering, rough, false, kRoughStep, attempt);
    std::vector<double> moves;
    for (std::size_t i = 0; i < r.elements.size(); ++i) {
      const ElementVector move = r.elements[i].value - r.rendered.values[i];
      if (r.elements[i].found) moves.push_back(move.head<4>().cwiseAbs().maxCoeff());
    }
    const bool slight = round > 0 && r.rendered.blur_px < kSlightBlur * attempt.cap_px;
    if (slight) return;
    const bool settled =
        std::abs(r.rendered.gain_apart) < kSettled && UpperMedian(std::move(moves)) < kSettled;
    if (round > 0 && settled) return;
  }
}

void LeaveOutCut(const outline::Lettering& lettering, Attempt& attempt) {
  constexpr double kMostOutside = 0.05;
  PlaceReport& r = attempt.report;
  const cv::Rect2d all(-0.5, -0.5, r.coverage.alpha.cols, r.coverage.alpha.rows);
  for (std::size_t i = 0; i < r.elements.size(); ++i) {
    ElementFit& fit = r.elements[i];
    const outline::Affine move = fit.found ? MoveOf(fit) : outline::Affine{};
    const outline::Box placed = PlacedBox(lettering.elements[i].outline, move, r.map_from_stamp);
    const cv::Rect2d rect(placed.min.x(), placed.min.y(), placed.width(), placed.height());
    fit.cut = (rect & all).area() < (1 - kMostOutside) * rect.area();
    fit.found = fit.found && !fit.cut;
    fit.in_place = fit.in_place && !fit.cut;
  }
}

void PreferUsualPlaces(const outline::Lettering& lettering, const PlaceOptions& options,
                       Attempt& attempt) {
  PlaceReport& r = attempt.report;
  if (r.rendered.empty()) return;
  const std::vector<ElementVector> usual = UsualPlaces(lettering, r.elements);
  for (std::size_t i = 0; i < r.elements.size(); ++i) {
    if (r.elements[i].found && IsAbout(r.elements[i], usual[i])) continue;
    r.elements[i] = MostLikely(lettering, options, usual[i], i, attempt);
  }
}

}  // namespace debossier::fit
