#include "measure/measure_photo.h"

#include <algorithm>
#include <cmath>

#include "measure/foil_edge.h"

namespace debossier::measure {

namespace {

/// A worn mark is sometimes fitted to the last letter: the foil there is the letter's, and no mark
/// is stamped over a letter.
void DropMarkOnLetter(std::vector<ElementMeasurement>& elements) {
  constexpr double kMostShared = 0.3;  // of the mark's width and height each
  for (ElementMeasurement& mark : elements) {
    if (!mark.is_mark || !mark.found) continue;
    for (const ElementMeasurement& letter : elements) {
      if (letter.is_mark || !letter.found) continue;
      const Point low = mark.box.min.cwiseMax(letter.box.min);
      const Point high = mark.box.max.cwiseMin(letter.box.max);
      const bool shares = high.x() - low.x() > kMostShared * mark.box.width() &&
                          high.y() - low.y() > kMostShared * mark.box.height();
      if (shares) mark.found = false;
    }
  }
}

/// Gaps, lines and the mark, from the elements of `placed` that were found; the lines' cases stay.
void MeasureLines(const outline::Lettering& reference, const fit::PlaceReport& placed,
                  Measurements& m) {
  std::vector<LineFit> lines;
  for (std::size_t l = 0; l < reference.lines.size(); ++l) {
    lines.push_back(FitLine(reference, placed.elements, static_cast<int>(l)));
  }
  const LineFit& wordmark = lines.front();
  m.gaps = MeasureGaps(reference, placed, wordmark);
  for (std::size_t l = 0; l < lines.size(); ++l) {
    const LineCase line_case = m.lines[l].line_case;
    m.lines[l] = MeasureLine(reference, static_cast<int>(l), m.elements, lines[l], wordmark);
    m.lines[l].line_case = line_case;
  }
  m.mark = MeasureMark(reference, placed, m.elements, wordmark);
}

}  // namespace

Measurements MeasurePhoto(const outline::Lettering& reference, const fit::PlaceReport& placed) {
  DEBOSSIER_ASSERT(placed.elements.size() == reference.elements.size());
  Measurements m;
  m.placement = placed.photo_from_stamp;
  const LineFit first = FitLine(reference, placed.elements, 0);
  for (std::size_t i = 0; i < reference.elements.size(); ++i) {
    m.elements.push_back(MeasureElement(reference, i, placed, first));
  }
  DropMarkOnLetter(m.elements);
  m.frame = MeasureFrame(reference, placed, first);
  m.lines.resize(reference.lines.size());
  for (std::size_t l = 0; l < m.lines.size(); ++l) m.lines[l].text = reference.lines[l].text;
  DecideCases(reference, placed, m);
  const bool read = std::any_of(m.elements.begin(), m.elements.end(),
                                [](const auto& e) { return e.read && !e.found; });
  if (!read) {
    MeasureLines(reference, placed, m);
  } else {
    // What is another letter says nothing of its line.
    fit::PlaceReport without = placed;
    for (std::size_t i = 0; i < m.elements.size(); ++i) {
      without.elements[i].found &= !m.elements[i].read || m.elements[i].found;
    }
    MeasureLines(reference, without, m);
  }
  for (ElementMeasurement& e : m.elements) {
    if (e.found || e.read) e.foil_edge_px = FoilEdgeAbout(e.outline, placed);
  }
  double gain = 0;
  double weight = 0;
  for (const auto& e : placed.elements) {
    if (!e.found) continue;
    const double w = 1 / e.covariance(fit::kOwnGain, fit::kOwnGain);
    gain += w * e.value[fit::kOwnGain];
    weight += w;
  }
  m.gain = {placed.map_from_stamp.gain + (weight > 0 ? gain / weight : 0),
            weight > 0 ? 1 / std::sqrt(weight) : 0};
  m.quality = MeasureQuality(reference, placed, m.elements);
  m.warnings = placed.warnings;
  return m;
}

}  // namespace debossier::measure
