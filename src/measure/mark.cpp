#include <algorithm>
#include <cmath>
#include <vector>

#include "measure/measure_photo.h"

namespace debossier::measure {

namespace {

/// Whether the photo shows ground where the mark should be and everywhere in reach: to its right,
/// above and below, away from the other lettering. What lies outside the picture is not seen.
bool SeesGround(const outline::Lettering& reference, const fit::PlaceReport& placed,
                std::size_t mark) {
  constexpr double kStep = 0.02;  // cap heights, as all here
  constexpr double kRight = 1.5;
  constexpr double kBeside = 0.5;
  constexpr double kAway = 0.08;         // from other elements
  constexpr double kMostInPlace = 0.08;  // of the mark's box
  constexpr double kMostInReach = 0.15;  // of the mark's area
  constexpr double kLeastSeen = 0.7;
  const outline::Outline& outline = reference.elements[mark].outline;
  const outline::Box own = outline::Bounds(outline);
  std::vector<outline::Box> others;
  for (std::size_t i = 0; i < reference.elements.size(); ++i) {
    if (i == mark) continue;
    outline::Box box = outline::Bounds(reference.elements[i].outline);
    box.min -= Point(kAway, kAway);
    box.max += Point(kAway, kAway);
    others.push_back(box);
  }
  const auto within = [](const outline::Box& b, const Point& p) {
    return p.x() >= b.min.x() && p.x() <= b.max.x() && p.y() >= b.min.y() && p.y() <= b.max.y();
  };
  const fit::EdgeReader reader(placed.coverage.alpha, placed.map_from_stamp);
  constexpr double kOutside = -1;
  double in_place = 0;
  double in_reach = 0;
  int seen = 0;
  int asked = 0;
  for (double y = own.min.y() - kBeside; y < own.max.y() + kBeside; y += kStep) {
    for (double x = own.min.x(); x < own.max.x() + kRight; x += kStep) {
      const Point at(x, y);
      if (std::any_of(others.begin(), others.end(), [&](const auto& b) { return within(b, at); })) {
        continue;
      }
      const double coverage = reader.CoverageAt(at, kOutside);
      ++asked;
      seen += coverage > kOutside;
      if (within(own, at)) {
        if (coverage <= kOutside) return false;
        in_place += kStep * kStep * (coverage > 0.5);
      }
      in_reach += kStep * kStep * (coverage > 0.5);
    }
  }
  return seen > kLeastSeen * asked && in_place < kMostInPlace * own.width() * own.height() &&
         in_reach < kMostInReach * outline::SignedArea(outline);
}

}  // namespace

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
  const bool looked_for = !m.found && !elements[mark].in_place && !elements[mark].cut;
  m.ground_seen = looked_for && SeesGround(reference, placed, mark);
  if (!m.found) return m;
  if (m.kind == "®" || m.kind == "©") {
    m.seen = KindSeen(outline::Bounds(elements[mark].outline), placed);
  }
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
