#include "measure/grain.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "fit/draw_lettering.h"
#include "fit/sample_map.h"

namespace debossier::measure {

namespace {

constexpr double kCell = 0.12;   // cap heights
constexpr double kMargin = 0.3;  // about the lettering, cap heights
constexpr double kWall = 0.12;   // beside the strokes, where the press has bent the leather
constexpr int kLeastNeighbours = 3;

/// Pixels to the nearest stroke (CV_32F).
cv::Mat DistanceToStrokes(const outline::Lettering& lettering, const fit::PlaceReport& placed) {
  const cv::Mat covered =
      fit::DrawLettering(lettering, placed.elements, placed.map_from_stamp, placed.cut.size());
  cv::Mat distance;
  cv::distanceTransform(covered <= 0, distance, cv::DIST_L2, cv::DIST_MASK_5);
  return distance;
}

}  // namespace

std::string GrainOf(const outline::Lettering& lettering, const fit::PlaceReport& placed) {
  if (placed.cut.empty() || lettering.elements.empty()) return "";
  outline::Box box = outline::Bounds(lettering);
  box.min -= outline::Point(kMargin, kMargin);
  box.max += outline::Point(kMargin, kMargin);
  const int columns = static_cast<int>(std::ceil(box.width() / kCell));
  const int rows = static_cast<int>(std::ceil(box.height() / kCell));
  constexpr int kMostCells = 40'000;
  if (columns < 3 || rows < 3 || columns > kMostCells / rows) return "";
  const double px_per_cap = placed.map_from_stamp.ScaleAt(box.centre());
  const cv::Mat distance = DistanceToStrokes(lettering, placed);
  cv::Mat lightness;
  cv::cvtColor(placed.cut, lightness, cv::COLOR_BGR2GRAY);
  lightness.convertTo(lightness, CV_32F);
  cv::GaussianBlur(lightness, lightness, {}, std::max(0.5, 0.35 * kCell * px_per_cap));
  std::vector<float> cells(static_cast<std::size_t>(rows) * columns, NAN);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < columns; ++c) {
      const outline::Point at(box.min.x() + (c + 0.5) * kCell, box.max.y() - (r + 0.5) * kCell);
      const outline::Point px = placed.map_from_stamp.ToPhoto(at);
      if (!fit::InsideMap(lightness, px.x(), px.y())) continue;
      if (fit::SampleMap(distance, px.x(), px.y()) < kWall * px_per_cap) continue;
      cells[static_cast<std::size_t>(r) * columns + c] = fit::SampleMap(lightness, px.x(), px.y());
    }
  }
  std::string signs(cells.size(), '.');
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < columns; ++c) {
      const std::size_t at = static_cast<std::size_t>(r) * columns + c;
      if (std::isnan(cells[at])) continue;
      double sum = 0;
      int count = 0;
      for (int y = std::max(0, r - 1); y <= std::min(rows - 1, r + 1); ++y) {
        for (int x = std::max(0, c - 1); x <= std::min(columns - 1, c + 1); ++x) {
          const float value = cells[static_cast<std::size_t>(y) * columns + x];
          if ((x == c && y == r) || std::isnan(value)) continue;
          sum += value;
          ++count;
        }
      }
      if (count >= kLeastNeighbours) signs[at] = cells[at] * count >= sum ? '+' : '-';
    }
  }
  return signs;
}

GrainAgreement CompareGrain(const std::string& a, const std::string& b) {
  GrainAgreement out;
  if (a.size() != b.size()) return out;
  int same = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    if (a[i] == '.' || b[i] == '.') continue;
    ++out.signs;
    same += a[i] == b[i];
  }
  if (out.signs > 0) out.share = static_cast<double>(same) / out.signs;
  return out;
}

bool GrainAgreement::IsSame() const {
  constexpr double kAlike = 0.15;      // walls and light that items have in common
  constexpr double kDeviations = 8.0;  // of a fair coin; neighbouring signs are not independent
  return signs > 0 && share - 0.5 > std::max(kAlike, kDeviations * 0.5 / std::sqrt(signs));
}

}  // namespace debossier::measure
