#include "fit/fit_elements.h"

#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

#include "base/quantile.h"
#include "fit/draw_lettering.h"
#include "fit/find_element.h"
#include "fit/usual_place.h"

namespace debossier::fit {

namespace {

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
  // A mark that moved leaves hardly an edge in its old place; a worn one still has most.
  const double least = kind == outline::ElementKind::kMark ? 0.65 : 0.8;
  return !fit.found || fit.edges_found < least || fit.residual > 0.03 * size || shift > 0.09 * size;
}

/// Searches around and keeps the new fit where it explains more of the outline.
ElementFit FitAfterSearch(const EdgeReader& reader, const outline::Element& element,
                          const SampledOutline& sampled, const ElementOptions& options,
                          ElementFit before) {
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
  ElementFit after = FitElement(reader, sampled, found.start, options);
  // A mark is small and looks like bits of worn letters; the pixels decide later whether it is one.
  const bool mark = element.kind == outline::ElementKind::kMark;
  if (mark && (after.edges_found < 0.6 || after.residual > 0.02)) return before;
  // Worn letters find part of their edges where they belong; a moved one must do clearly better.
  const auto quality = [](const ElementFit& f) {
    return f.found ? f.edges_found - 8 * f.residual : -1.0;
  };
  return quality(after) > quality(before) + 0.15 ? after : before;
}

/// `settled`: the start is a fit already.
ElementOptions OptionsFor(const outline::Lettering& lettering, const outline::Element& e,
                          const PlaceOptions& options, double step, const Attempt& attempt,
                          bool settled) {
  ElementOptions element = options.element;
  element.map_px_per_cap = attempt.cap_px;
  // Small lettering: the window and the spacing of the samples shrink with it, or the search along
  // the normal would reach the letter's other side.
  const double size = SizeOfElement(lettering, e);
  element.window =
      std::clamp(options.element.window * size, 3.5 / attempt.cap_px, options.element.window);
  element.step = std::max(step * size, 0.5 / attempt.cap_px);
  // Dots and the like: too little outline to tell size from gain and place.
  const outline::Box box = outline::Bounds(e.outline);
  const bool tiny = std::max(box.width(), box.height()) < 0.3 * size;
  element.scale_sd = tiny ? 0.06 : options.element.scale_sd;
  element.settled = settled;
  return element;
}

const SampledOutline& Sampled(const outline::Lettering& lettering, std::size_t idx, double step,
                              Attempt& attempt) {
  const outline::Outline& outline = lettering.elements[idx].outline;
  return attempt.sampled.try_emplace({idx, step}, outline, step).first->second;
}

/// What the rendering shows of an element.
ReferenceReading ReadReference(const RenderedReference& rendered, const SampledOutline& outline,
                               std::size_t idx, double window) {
  return rendered.empty() ? ReferenceReading()
                          : ReadReference(rendered, outline, rendered.values[idx], window);
}

/// Whether the fit lies about `usual`: no further off than its own uncertainty and what letters
/// stray on real goods allow.
bool IsAbout(const ElementFit& fit, const ElementVector& usual) {
  constexpr double kShiftSpread = 0.008;  // cap heights; real bindings show as much
  constexpr double kScaleSpread = 0.016;
  constexpr double kDeviations = 2.5;
  for (const int k : {kShiftX, kShiftY, kLogScaleX, kLogScaleY}) {
    const double spread = k == kShiftX || k == kShiftY ? kShiftSpread : kScaleSpread;
    const double variance = fit.covariance(k, k) + spread * spread;
    const double apart = fit.value[k] - usual[k];
    if (apart * apart > kDeviations * kDeviations * variance) return false;
  }
  return true;
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
    ElementFit fit = FitElement(reader, sampled, start, element,
                                ReadReference(r.rendered, sampled, i, element.window));
    if (search && LooksMisplaced(fit, e.kind, SizeOfElement(lettering, e))) {
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
        std::abs(r.rendered.gain_apart) < kSettled && Median(std::move(moves)) < kSettled;
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
  constexpr double kClearly = 4;            // log-likelihood: odds of 55 to 1
  constexpr double kMostUnexplained = 0.5;  // of the foil in its place
  PlaceReport& r = attempt.report;
  if (r.rendered.empty()) return;
  const std::vector<ElementVector> usual = UsualPlaces(lettering, r.elements);
  const EdgeReader reader(r.coverage.alpha, r.map_from_stamp);
  for (std::size_t i = 0; i < r.elements.size(); ++i) {
    const auto& element = lettering.elements[i];
    if (r.elements[i].found && IsAbout(r.elements[i], usual[i])) continue;
    const ElementOptions own =
        OptionsFor(lettering, element, options, options.element.step, attempt, true);
    const SampledOutline& sampled = Sampled(lettering, i, own.step, attempt);
    ElementFit in_place = FitElement(reader, sampled, usual[i], own,
                                     ReadReference(r.rendered, sampled, i, own.window));
    const bool stays = in_place.found && IsAbout(in_place, usual[i]);
    ElementFit unmoved;
    unmoved.centre = in_place.centre;
    unmoved.value = usual[i];
    const ElementFit* usual_fit = stays ? &in_place : &unmoved;
    const PlaceLikelihood likelihood(r.coverage, r.rendered, r.map_from_stamp, lettering,
                                     r.elements, i);
    const auto e = likelihood.Of({&r.elements[i], usual_fit, nullptr});
    const auto& [fitted, usually, absent] = std::tie(e[0], e[1], e[2]);
    const bool moved =
        r.elements[i].found && fitted.log_likelihood > usually.log_likelihood + kClearly;
    const PlaceEvidence& best = moved ? fitted : usually;
    const bool there = best.log_likelihood > absent.log_likelihood + kClearly;
    if (!moved) {
      r.elements[i] = std::move(in_place);
      r.elements[i].found = stays;
      r.elements[i].in_place = there && usually.extra < kMostUnexplained * absent.extra;
    }
    r.elements[i].found = r.elements[i].found && there;
  }
}

}  // namespace debossier::fit
