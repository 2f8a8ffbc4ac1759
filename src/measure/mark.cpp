#include <cmath>

#include "measure/measure_photo.h"

namespace debossier::measure {

MarkMeasurement MeasureMark(const outline::Lettering& reference, const fit::PlaceReport& placed,
                            const std::vector<ElementMeasurement>& elements,
                            const LineFit& wordmark) {
  MarkMeasurement m;
  std::size_t mark = elements.size();
  std::size_t last = elements.size();
  for (std::size_t i = 0; i < elements.size(); ++i) {
    if (elements[i].is_mark) mark = i;
    if (!elements[i].is_mark && elements[i].line_idx == 0) last = i;
  }
  if (mark == elements.size()) return m;
  m.kind = elements[mark].character;
  m.found = elements[mark].found;
  if (!m.found) return m;
  m.size = elements[mark].height_ratio;
  const double size = 1 + wordmark.value[kLineSize];
  const fit::ElementFit& sign = placed.elements[mark];
  const ExtremeEdges se = EdgesOf(sign, reference.elements[mark].outline);
  m.rise = {elements[mark].box.min.y(),
            Combine(std::sqrt(se.d_bottom.dot(sign.covariance * se.d_bottom)),
                    std::sqrt(wordmark.covariance(kLineShiftY, kLineShiftY)))};
  if (last == elements.size() || !elements[last].found) return m;
  const fit::ElementFit& letter = placed.elements[last];
  const ExtremeEdges le = EdgesOf(letter, reference.elements[last].outline);
  m.gap = {(se.left - le.right) / size, std::sqrt(se.d_left.dot(sign.covariance * se.d_left) +
                                                  le.d_right.dot(letter.covariance * le.d_right))};
  return m;
}

}  // namespace debossier::measure
