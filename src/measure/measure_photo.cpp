#include "measure/measure_photo.h"

#include <cmath>

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

}  // namespace

Measurements MeasurePhoto(const outline::Lettering& reference, const fit::PlaceReport& placed) {
  DEBOSSIER_ASSERT(placed.elements.size() == reference.elements.size());
  Measurements m;
  m.placement = placed.photo_from_stamp;
  std::vector<LineFit> lines;
  for (std::size_t l = 0; l < reference.lines.size(); ++l) {
    lines.push_back(FitLine(reference, placed.elements, static_cast<int>(l)));
  }
  const LineFit& wordmark = lines.front();
  for (std::size_t i = 0; i < reference.elements.size(); ++i) {
    m.elements.push_back(MeasureElement(reference, i, placed, wordmark));
  }
  DropMarkOnLetter(m.elements);
  m.gaps = MeasureGaps(reference, placed, wordmark);
  for (std::size_t l = 0; l < lines.size(); ++l) {
    m.lines.push_back(MeasureLine(reference, static_cast<int>(l), m.elements, lines[l], wordmark));
  }
  m.mark = MeasureMark(reference, placed, m.elements, wordmark);
  m.frame = MeasureFrame(reference, placed, wordmark);
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
  DecideCases(reference, placed, m);
  m.quality = MeasureQuality(reference, placed, m.elements);
  m.warnings = placed.warnings;
  return m;
}

}  // namespace debossier::measure
