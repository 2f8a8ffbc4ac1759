// Distance between an element's edge in the photo and its reference outline. Directed distances
// stay apart: genuine impressions mostly lack foil, copies also add some (Horiuchi, ICDAR 2001).
#include <algorithm>
#include <cmath>

#include "measure/measure_photo.h"

namespace debossier::measure {

namespace {

constexpr double kSmoothLength =
    0.10;  // cap heights of outline: longer than raggedness is correlated
constexpr double kCorrelation = 0.05;
constexpr double kWorn = 0.06;  // cap heights inward: chipped foil, not another form

struct Run {
  std::vector<double> distance;
  std::vector<double> length;
};

/// Displacements averaged over a short length of each closed contour.
std::vector<double> Smoothed(const std::vector<double>& value, const std::vector<double>& length,
                             const std::vector<int>& contour) {
  const int n = static_cast<int>(value.size());
  std::vector<double> smooth(value.size(), 0.0);
  int from = 0;
  while (from < n) {
    int to = from;
    while (to < n && contour[to] == contour[from]) ++to;
    const int count = to - from;
    for (int i = 0; i < count; ++i) {
      double sum = value[from + i] * length[from + i];
      double weight = length[from + i];
      for (const int direction : {-1, 1}) {
        double gone = 0;
        for (int k = 1; k < count; ++k) {
          const int j = from + ((i + direction * k) % count + count) % count;
          gone += length[j];
          if (gone > kSmoothLength / 2) break;
          sum += value[j] * length[j];
          weight += length[j];
        }
      }
      smooth[from + i] = sum / weight;
    }
    from = to;
  }
  return smooth;
}

/// Share of the reference's area where the coverage is below one half.
double MissingArea(const fit::ElementFit& fit, const fit::EdgeReader& reader,
                   const outline::Outline& reference) {
  const auto polygons = outline::Flatten(reference, 0.004);
  const outline::Box box = outline::Bounds(reference);
  const outline::Affine move = fit::MoveOf(fit);
  const double step = std::max(0.025, std::sqrt(box.width() * box.height() / 500));
  int inside = 0;
  int missing = 0;
  std::vector<std::pair<double, int>> crossings;
  for (double y = box.min.y() + step / 2; y < box.max.y(); y += step) {
    outline::CrossingsAt(polygons, y, &crossings);
    int winding = 0;
    std::size_t next = 0;
    for (double x = box.min.x() + step / 2; x < box.max.x(); x += step) {
      for (; next < crossings.size() && crossings[next].first <= x; ++next) {
        winding += crossings[next].second;
      }
      if (winding == 0) continue;
      ++inside;
      missing += reader.CoverageAt(move * Point(x, y), 0) < 0.5;
    }
  }
  return inside > 0 ? static_cast<double>(missing) / inside : 0;
}

}  // namespace

ShapeDistance MeasureShape(const fit::ElementFit& fit, const fit::EdgeReader& reader,
                           const outline::Outline& reference) {
  ShapeDistance shape;
  std::vector<double> value;
  std::vector<double> length;
  std::vector<int> contour;
  double total = 0;
  double squares = 0;
  double in_squares = 0;
  double out_squares = 0;
  double extra_length = 0;
  double worn_length = 0;
  std::vector<std::pair<double, double>> sorted;
  for (std::size_t i = 0; i < fit.edges.size(); ++i) {
    const auto& r = fit.readings[i];
    const bool unread =
        r.kind == fit::EdgeReading::Kind::kOutside || r.kind == fit::EdgeReading::Kind::kUnreadable;
    if (unread) continue;
    const double l = fit.edges[i].length;
    // Foil that is gone says little of the die's form: it counts as missing, not as distance.
    const bool worn = r.kind == fit::EdgeReading::Kind::kMissing || r.displacement < -kWorn;
    value.push_back(worn ? 0 : r.displacement);
    worn_length += worn ? l : 0;
    length.push_back(l);
    contour.push_back(fit.edges[i].contour_idx);
    total += l;
    squares += l * r.displacement * r.displacement;
    (r.displacement < 0 ? in_squares : out_squares) += l * r.displacement * r.displacement;
    if (r.kind == fit::EdgeReading::Kind::kExtra) extra_length += l;
    sorted.emplace_back(std::abs(r.displacement), l);
  }
  if (total <= 0) return shape;
  shape.rms = std::sqrt(squares / total);
  shape.signed_missing_rms = std::sqrt(in_squares / total);
  shape.signed_extra_rms = std::sqrt(out_squares / total);
  std::sort(sorted.begin(), sorted.end());
  double gone = 0;
  for (const auto& [distance, l] : sorted) {
    gone += l;
    shape.p95 = distance;
    if (gone >= 0.95 * total) break;
  }
  const auto smooth = Smoothed(value, length, contour);
  double smooth_squares = 0;
  double rough_squares = 0;
  for (std::size_t i = 0; i < value.size(); ++i) {
    smooth_squares += length[i] * smooth[i] * smooth[i];
    rough_squares += length[i] * (value[i] - smooth[i]) * (value[i] - smooth[i]);
  }
  // Raggedness that survives the averaging is no shape: its share is taken out.
  const double noise = rough_squares / total * kCorrelation / kSmoothLength;
  const double windows = std::max(2.0, total / kSmoothLength);
  shape.smooth_rms = std::sqrt(std::max(0.0, smooth_squares / total - noise));
  // What is worn away could have been of any form.
  shape.u = std::hypot(std::sqrt(noise / windows), 0.02 * worn_length / total) + 1e-4;
  shape.missing = MissingArea(fit, reader, reference);
  shape.extra = extra_length / total;
  return shape;
}

}  // namespace debossier::measure
