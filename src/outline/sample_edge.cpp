#include <algorithm>
#include <cmath>

#include "base/result.h"
#include "outline/cubic.h"
#include "outline/outline.h"

namespace debossier::outline {

namespace {

/// A stretch of a contour short enough for five-point quadrature: a whole line, or a span of t.
struct Span {
  bool is_line = true;
  Cubic cubic;  ///< p0 and p3 only for a line.
  double t0 = 0;
  double t1 = 1;
  double length = 0;
  double start_speed = 0;  ///< Arc length by t at either end of a span of t.
  double end_speed = 0;
};

constexpr int kSpansPerCurve = 4;

std::vector<Span> SpansOf(const Contour& contour) {
  std::vector<Span> spans;
  Point from = contour.start;
  for (const Segment& segment : contour.segments) {
    if (segment.is_line) {
      const double length = (segment.end - from).norm();
      if (length > 0) {
        spans.push_back({true, {from, from, segment.end, segment.end}, 0, 1, length, 0, 0});
      }
    } else {
      const Cubic cubic = CubicOf(from, segment);
      for (int i = 0; i < kSpansPerCurve; ++i) {
        const double t0 = static_cast<double>(i) / kSpansPerCurve;
        const double t1 = static_cast<double>(i + 1) / kSpansPerCurve;
        const double length = cubic.LengthBetween(t0, t1);
        if (length > 0) {
          spans.push_back({false, cubic, t0, t1, length, cubic.DerivativeAt(t0).norm(),
                           cubic.DerivativeAt(t1).norm()});
        }
      }
    }
    from = segment.end;
  }
  return spans;
}

/// The parameter at arc length `along` from the span's beginning: cubic Hermite interpolation of
/// the inverse, then Newton's steps, kept inside.
double ParameterAt(const Span& span, double along) {
  const double u = along / span.length;
  double t = span.t0 + (span.t1 - span.t0) * u;
  if (span.start_speed > 0 && span.end_speed > 0) {
    const double m0 = span.length / span.start_speed;
    const double m1 = span.length / span.end_speed;
    const double chord = span.t1 - span.t0;
    const double hermite = u * (1 - u) * ((1 - u) * (m0 - chord) - u * (m1 - chord));
    t = std::clamp(t + hermite, span.t0, span.t1);
    // Where the speed does not change much, what Hermite leaves is far below the step between
    // samples; it moves a sample along the curve, never off it.
    constexpr double kEven = 0.03;
    if (std::abs(m0 - chord) < kEven * chord && std::abs(m1 - chord) < kEven * chord) return t;
  }
  for (int round = 0; round < 8; ++round) {
    const double miss = span.cubic.LengthBetween(span.t0, t) - along;
    const double speed = span.cubic.DerivativeAt(t).norm();
    if (!(speed > 0)) break;
    t = std::clamp(t - miss / speed, span.t0, span.t1);
    // The step's own error goes with the square of the miss.
    if (std::abs(miss) <= 1e-4 * span.length) break;
  }
  return t;
}

EdgeSample SampleOn(const Span& span, double along) {
  EdgeSample sample;
  Point direction;
  if (span.is_line) {
    direction = (span.cubic.p3 - span.cubic.p0) / span.length;
    sample.point = span.cubic.p0 + along * direction;
  } else {
    const double t = ParameterAt(span, along);
    direction = span.cubic.DirectionAt(t);
    sample.point = span.cubic.At(t);
  }
  sample.normal = Point(direction.y(), -direction.x());
  return sample;
}

}  // namespace

std::vector<EdgeSample> SampleEdge(const Outline& outline, double step) {
  DEBOSSIER_ASSERT(step > 0);
  constexpr double kFewest = 8;
  constexpr double kMost = 1e6;
  std::vector<EdgeSample> samples;
  for (std::size_t c = 0; c < outline.contours.size(); ++c) {
    const std::vector<Span> spans = SpansOf(outline.contours[c]);
    double total = 0;
    for (const Span& span : spans) total += span.length;
    if (!(total > 0)) continue;
    const int count = static_cast<int>(std::clamp(std::round(total / step), kFewest, kMost));
    std::size_t span_idx = 0;
    double before = 0;  // Arc length where the current span begins.
    for (int i = 0; i < count; ++i) {
      // Half steps from the start; a sample on a corner takes the normal of the side after it.
      const double along = (i + 0.5) * total / count;
      while (span_idx + 1 < spans.size() && along >= before + spans[span_idx].length) {
        before += spans[span_idx].length;
        ++span_idx;
      }
      const Span& span = spans[span_idx];
      EdgeSample sample = SampleOn(span, std::clamp(along - before, 0.0, span.length));
      sample.length = total / count;
      sample.contour_idx = static_cast<int>(c);
      samples.push_back(sample);
    }
  }
  return samples;
}

}  // namespace debossier::outline
