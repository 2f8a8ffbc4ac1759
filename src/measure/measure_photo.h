// Measures everything the design lists on one placed lettering.
//
// Frame: stamp, scaled and shifted so that the wordmark as measured on this photo has its reference
// size and place: all lengths are in cap heights of the photo's own wordmark.
// Not for: judging; compare does that.
#pragma once

#include <vector>

#include "fit/place_lettering.h"
#include "measure/line_fit.h"
#include "measure/measurements.h"
#include "outline/lettering.h"

namespace debossier::measure {

/// Measures all of it.
Measurements MeasurePhoto(const outline::Lettering& reference, const fit::PlaceReport& placed);

/// Which of ® and © stands in `box` (stamp frame, of the sign's outer form): "®", "©", or empty
/// where the inside is worn, filled, glaring or too small to tell.
std::string KindSeen(const outline::Box& box, const fit::PlaceReport& placed);

/// The parts, one file each.
ElementMeasurement MeasureElement(const outline::Lettering& reference, std::size_t idx,
                                  const fit::PlaceReport& placed, const LineFit& wordmark);
ShapeDistance MeasureShape(const fit::ElementFit& fit, const fit::EdgeReader& reader,
                           const outline::Outline& reference);
std::vector<GapMeasurement> MeasureGaps(const outline::Lettering& reference,
                                        const fit::PlaceReport& placed, const LineFit& wordmark);
LineMeasurement MeasureLine(const outline::Lettering& reference, int line_idx,
                            const std::vector<ElementMeasurement>& elements, const LineFit& line,
                            const LineFit& wordmark);
MarkMeasurement MeasureMark(const outline::Lettering& reference, const fit::PlaceReport& placed,
                            const std::vector<ElementMeasurement>& elements,
                            const LineFit& wordmark);
/// A rule around one of the lines, looked for without knowing where; kind kNone where there is
/// none.
outline::Frame FindFrame(const outline::Lettering& reference, const fit::PlaceReport& placed);

FrameMeasurement MeasureFrame(const outline::Lettering& reference, const fit::PlaceReport& placed,
                              const LineFit& wordmark);
Quality MeasureQuality(const outline::Lettering& reference, const fit::PlaceReport& placed,
                       const std::vector<ElementMeasurement>& elements);
/// Decides the case of every letter, then of every line. A line whose letters fit the reference has
/// the reference's case; one whose letters do not is read again as capitals, title and small
/// letters, and the cheapest reading decides where it is clear.
void DecideCases(const outline::Lettering& reference, const fit::PlaceReport& placed,
                 Measurements& measured);

/// The four extreme edges of an element as fitted, gain taken out, with their derivatives by the
/// element's unknowns. Frame: stamp, before the wordmark's own scale.
struct ExtremeEdges {
  double left = 0, right = 0, bottom = 0, top = 0;
  fit::ElementVector d_left, d_right, d_bottom, d_top;
};
ExtremeEdges EdgesOf(const fit::ElementFit& fit, const outline::Outline& reference);

}  // namespace debossier::measure
