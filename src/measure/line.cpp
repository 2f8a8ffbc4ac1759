#include <algorithm>
#include <cmath>
#include <optional>

#include "measure/measure_photo.h"
#include "outline/letter_class.h"

namespace debossier::measure {

namespace {

/// Letters spread further apart than their own size explains, for each advance; nothing where there
/// is only one. `nominal`: the line's height.
std::optional<Measured> TrackingOf(const std::vector<Box>& reference_boxes, double nominal,
                                   const LineFit& line) {
  if (reference_boxes.size() < 2) return std::nullopt;
  double advance = 0;
  int advances = 0;
  for (std::size_t i = 1; i < reference_boxes.size(); ++i) {
    advance += reference_boxes[i].centre().x() - reference_boxes[i - 1].centre().x();
    ++advances;
  }
  advance /= advances * std::max(1e-6, nominal);
  const double variance = line.covariance(kLineSpread, kLineSpread) +
                          line.covariance(kLineSize, kLineSize) -
                          2 * line.covariance(kLineSpread, kLineSize);
  return Measured{(line.value[kLineSpread] - line.value[kLineSize]) * advance,
                  std::sqrt(std::max(0.0, variance)) * advance};
}

}  // namespace

LineMeasurement MeasureLine(const outline::Lettering& reference, int line_idx,
                            const std::vector<ElementMeasurement>& elements, const LineFit& line,
                            const LineFit& wordmark) {
  LineMeasurement m;
  m.id = reference.lines[line_idx].id;
  m.text = reference.lines[line_idx].text;
  std::vector<std::string> characters;
  std::vector<Box> boxes;
  std::vector<Box> reference_boxes;
  for (std::size_t i = 0; i < elements.size(); ++i) {
    const auto& e = elements[i];
    if (e.line_idx != line_idx || e.is_mark || !e.found) continue;
    characters.push_back(e.found_as);
    boxes.push_back(e.box);
    reference_boxes.push_back(outline::Bounds(reference.elements[i].outline));
  }
  if (characters.empty() || !line.found) return m;
  const auto heights = outline::HeightsOf(characters, boxes);
  const auto expected = outline::HeightsOf(characters, reference_boxes);
  const bool is_wordmark = line_idx == 0;
  const double ratio = (1 + line.value[kLineSize]) / (1 + wordmark.value[kLineSize]);
  const double u_line = std::sqrt(line.covariance(kLineSize, kLineSize));
  const double u_word = std::sqrt(wordmark.covariance(kLineSize, kLineSize));
  const double u_ratio = is_wordmark ? 0 : ratio * Combine(u_line, u_word);
  // Heights of the line come from all its letters' sizes; the flat letters give their kind.
  if (heights.cap_height > 0) m.cap_height = {expected.cap_height * ratio, u_line};
  if (heights.x_height > 0) m.x_height = {expected.x_height * ratio, u_line};
  const double nominal = expected.Nominal();
  m.relative_size = {ratio, u_ratio};
  m.height_ratio = {nominal * ratio, nominal * u_ratio};
  // Shift of the line's centre beyond what the wordmark's own fit says of that place.
  const Point d = line.centre - wordmark.centre;
  const auto& w = wordmark.value;
  const double size = 1 + w[kLineSize];
  const Point predicted(w[kLineShiftX] - w[kLineTurn] * d.y() + w[kLineSize] * d.x(),
                        w[kLineShiftY] + w[kLineTurn] * d.x() + w[kLineSize] * d.y());
  const Point seen(line.value[kLineShiftX], line.value[kLineShiftY]);
  const Point offset = (seen - predicted) / size;
  const double lever = d.norm() * std::sqrt(wordmark.covariance(kLineTurn, kLineTurn));
  const auto u_of = [&](int k) {
    return Combine(std::sqrt(line.covariance(k, k)), std::sqrt(wordmark.covariance(k, k)), lever);
  };
  if (!is_wordmark) {
    m.offset_x = {offset.x(), u_of(kLineShiftX)};
    m.offset_y = {offset.y(), u_of(kLineShiftY)};
  }
  m.tracking = TrackingOf(reference_boxes, nominal, line).value_or(m.tracking);
  return m;
}

}  // namespace debossier::measure
