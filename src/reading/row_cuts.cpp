#include "reading/row_cuts.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <utility>

#include "base/quantile.h"
#include "base/unicode.h"
#include "outline/lettering.h"
#include "reading/expected_size.h"

namespace debossier::reading {

namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

double Square(double v) { return v * v; }

struct Expected {
  int index = 0;
  std::string character;
  ExpectedSize size;
  std::optional<int> counters;  ///< Enclosed ones; none where it depends on the face.
  bool after_space = false;
};

std::vector<Expected> ExpectedCharacters(const std::string& text, const std::string& mark) {
  std::vector<Expected> expected;
  bool space = false;
  const auto characters = outline::Characters(text);
  for (std::size_t i = 0; i < characters.size(); ++i) {
    if (IsSpace(characters[i])) {
      space = true;
      continue;
    }
    expected.push_back({static_cast<int>(i), characters[i], SizeOf(characters[i]),
                        CountersOf(characters[i]), space});
    space = false;
  }
  if (!mark.empty()) {
    expected.push_back(
        {static_cast<int>(characters.size()), mark, SizeOf(mark), std::nullopt, false});
  }
  return expected;
}

/// A place where the row may be cut, with the price of cutting there.
struct CutPlace {
  int column = 0;
  double cost = 0;
  double gap = 0;  ///< Width of the empty run around it; 0 inside ink.
};

std::vector<int> ColumnInk(const cv::Mat& row) {
  std::vector<int> ink(static_cast<std::size_t>(row.cols), 0);
  for (int y = 0; y < row.rows; ++y) {
    const auto* line = row.ptr<unsigned char>(y);
    for (int x = 0; x < row.cols; ++x) ink[static_cast<std::size_t>(x)] += line[x] != 0;
  }
  return ink;
}

std::vector<CutPlace> CutPlaces(const std::vector<int>& ink, double height) {
  std::vector<CutPlace> places;
  const int columns = static_cast<int>(ink.size());
  const int apart = std::max(2, static_cast<int>(0.08 * height));
  for (int x = 0; x < columns;) {
    if (ink[x] == 0) {
      int end = x;
      while (end < columns && ink[end] == 0) ++end;
      places.push_back({(x + end) / 2, 0, static_cast<double>(end - x)});
      x = end;
      continue;
    }
    int end = x;
    while (end < columns && ink[end] > 0) ++end;
    // Inside a run of ink: the thinnest column of each neighbourhood, where it is thin enough.
    for (int c = x + apart; c < end - apart; ++c) {
      const int thinnest = *std::min_element(ink.begin() + std::max(x, c - apart),
                                             ink.begin() + std::min(end, c + apart + 1));
      if (ink[c] == thinnest && ink[c] < 0.4 * height &&
          (places.empty() || c - places.back().column > apart || places.back().gap > 0)) {
        places.push_back({c, 3 + 12 * Square(ink[c] / height), 0});
      }
    }
    x = end;
  }
  if (places.empty() || ink.front() > 0) places.insert(places.begin(), CutPlace{0, 0, 0});
  if (ink.back() > 0) places.push_back({columns, 0, 0});
  return places;
}

/// Ink extent of every span between cut places, from running column extents.
struct Extent {
  int left = -1, right = -1, top = 1 << 29, bottom = -1;
  double inner_gap = 0;
  int counters = 0;  ///< Enclosed ones.
};

/// An enclosed stretch of ground: a letter's counter, or what touching letters close in.
struct Counter {
  int left = 0;
  int right = 0;
};

std::vector<Counter> FindCounters(const cv::Mat& row) {
  constexpr double kLeastArea = 0.012;  // of the height squared; worn foil leaves smaller holes
  cv::Mat ground;
  cv::copyMakeBorder(row == 0, ground, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(255));
  cv::Mat labels, stats, centroids;
  const int count = cv::connectedComponentsWithStats(ground, labels, stats, centroids, 4, CV_32S);
  const int outside = labels.at<int>(0, 0);
  std::vector<Counter> counters;
  for (int label = 1; label < count; ++label) {
    if (label == outside) continue;
    if (stats.at<int>(label, cv::CC_STAT_AREA) < kLeastArea * row.rows * row.rows) continue;
    const int left = stats.at<int>(label, cv::CC_STAT_LEFT) - 1;
    counters.push_back({left, left + stats.at<int>(label, cv::CC_STAT_WIDTH)});
  }
  return counters;
}

class SpanExtents {
 public:
  SpanExtents(const cv::Mat& row, const std::vector<int>& ink)
      : ink_(ink), counters_(FindCounters(row)) {
    top_.assign(ink.size(), row.rows);
    bottom_.assign(ink.size(), -1);
    for (int y = 0; y < row.rows; ++y) {
      const auto* line = row.ptr<unsigned char>(y);
      for (int x = 0; x < row.cols; ++x) {
        if (line[x] == 0) continue;
        top_[x] = std::min(top_[x], y);
        bottom_[x] = std::max(bottom_[x], y);
      }
    }
  }

  Extent Of(int from, int to) const {
    Extent e;
    int last_ink = -1;
    for (int x = from; x < to; ++x) {
      if (ink_[x] == 0) continue;
      if (e.left < 0) e.left = x;
      if (last_ink >= 0) e.inner_gap = std::max<double>(e.inner_gap, x - last_ink - 1);
      last_ink = x;
      e.top = std::min(e.top, top_[x]);
      e.bottom = std::max(e.bottom, bottom_[x]);
    }
    e.right = last_ink + 1;
    for (const Counter& c : counters_) e.counters += c.left >= from && c.right <= to;
    return e;
  }

  void ForgetCounters() { counters_.clear(); }

  /// Whether a cut there would go through an enclosed counter.
  bool CutsCounter(int column) const {
    return std::any_of(counters_.begin(), counters_.end(),
                       [column](const Counter& c) { return c.left < column && column < c.right; });
  }

 private:
  const std::vector<int>& ink_;
  std::vector<Counter> counters_;
  std::vector<int> top_;
  std::vector<int> bottom_;
};

struct RowModel {
  double cap_height = 0;
  double baseline = 0;
  double width_factor = 1;
};

double CharacterCost(const Extent& e, const Expected& expected, const RowModel& model) {
  if (e.left < 0) return 60;
  const double h = model.cap_height;
  const double width = (e.right - e.left) / h;
  const double wanted = expected.size.width * model.width_factor;
  // Thin letters vary more in relative width; the margin has an absolute part.
  double cost = Square((width - wanted) / (0.18 * wanted + 0.06));
  const double top = (model.baseline - e.top) / h;
  const double bottom = (model.baseline - e.bottom - 1) / h;
  cost += Square((top - expected.size.top) / 0.13) / 2;
  cost += Square((bottom - expected.size.bottom) / 0.13) / 2;
  if (expected.character != "\"") cost += Square(e.inner_gap / h / 0.07);
  // Wear opens a counter and touching letters close one, so the number is no more than a hint.
  constexpr double kCounterCost = 2;
  if (expected.counters) cost += kCounterCost * std::abs(e.counters - *expected.counters);
  return std::min(cost, 60.0);
}

double SpaceCost(const CutPlace& place, bool is_space, double height) {
  const double gap = place.gap / height;
  if (is_space) return Square(std::max(0.0, 0.32 - gap) / 0.12);
  return Square(std::max(0.0, gap - 0.35) / 0.12);
}

/// Ink before the first or after the last character may be an ornament or a speck.
double SkipCost(const Extent& skipped, double height) {
  return skipped.left < 0 ? 0.0 : 3.0 + 3.0 * (skipped.right - skipped.left) / height;
}

struct Solution {
  double cost = kInfinity;
  std::vector<std::pair<int, int>> spans;  ///< Cut place indices a character.
};

Solution Solve(const std::vector<CutPlace>& places, const SpanExtents& extents,
               const std::vector<Expected>& expected, const RowModel& model) {
  const int n = static_cast<int>(expected.size());
  const int m = static_cast<int>(places.size());
  const int longest = static_cast<int>(2.2 * model.cap_height * std::max(1.0, model.width_factor));
  std::vector<std::vector<double>> best(n + 1, std::vector<double>(m, kInfinity));
  std::vector<std::vector<int>> from(n + 1, std::vector<int>(m, -1));
  // Leading ink may be skipped (ornaments, specks), at a price that grows slowly.
  for (int p = 0; p < m; ++p) {
    const Extent skipped = extents.Of(0, places[p].column);
    best[0][p] = places[p].cost + SkipCost(skipped, model.cap_height);
  }
  for (int p = 0; p < m; ++p) {
    for (int q = p + 1; q < m; ++q) {
      if (places[q].column - places[p].column > longest) break;
      const Extent extent = extents.Of(places[p].column, places[q].column);
      for (int k = 0; k < n; ++k) {
        if (best[k][p] == kInfinity) continue;
        double cost = best[k][p] + CharacterCost(extent, expected[k], model) + places[q].cost;
        if (k > 0) cost += SpaceCost(places[p], expected[k].after_space, model.cap_height);
        if (cost < best[k + 1][q]) {
          best[k + 1][q] = cost;
          from[k + 1][q] = p;
        }
      }
    }
  }
  Solution solution;
  int end = -1;
  for (int p = 0; p < m; ++p) {
    const Extent skipped = extents.Of(places[p].column, places.back().column);
    const double cost = best[n][p] + SkipCost(skipped, model.cap_height);
    if (cost < solution.cost) {
      solution.cost = cost;
      end = p;
    }
  }
  if (end < 0) return solution;
  solution.spans.resize(n);
  for (int k = n; k > 0; --k) {
    const int start = from[k][end];
    solution.spans[k - 1] = {start, end};
    end = start;
  }
  return solution;
}

std::vector<RowModel> Models(const cv::Mat& row, const std::vector<Expected>& expected) {
  double top = 0;
  double bottom = 0;
  for (const auto& e : expected) {
    top = std::max(top, e.size.top);
    bottom = std::min(bottom, e.size.bottom);
  }
  // The band holds everything between the highest top and the lowest bottom of the text.
  std::vector<RowModel> models;
  const double base_height = row.rows / (top - bottom);
  for (const double scale : {1.0, 0.9, 1.08}) {
    for (const double width : {1.0, 0.7, 0.85, 1.2, 1.45}) {
      RowModel model;
      model.cap_height = base_height * scale;
      model.baseline = row.rows + bottom * model.cap_height;
      model.width_factor = width;
      models.push_back(model);
    }
  }
  return models;
}

/// Moves the model's baseline, cap height and width factor to what the cuts show.
RowModel Refined(const RowModel& model, const Solution& solution,
                 const std::vector<CutPlace>& places, const SpanExtents& extents,
                 const std::vector<Expected>& expected) {
  std::vector<double> bases;
  std::vector<double> heights;
  std::vector<double> widths;
  for (std::size_t k = 0; k < expected.size(); ++k) {
    const auto [p, q] = solution.spans[k];
    const Extent e = extents.Of(places[p].column, places[q].column);
    if (e.left < 0) continue;
    if (expected[k].size.bottom == 0) bases.push_back(e.bottom + 1);
    if (expected[k].size.height() > 0.5) {
      heights.push_back((e.bottom + 1 - e.top) / expected[k].size.height());
      widths.push_back((e.right - e.left) / expected[k].size.width);
    }
  }
  RowModel refined = model;
  if (bases.size() >= 2) refined.baseline = UpperMedian(std::move(bases));
  if (heights.size() >= 2) {
    refined.cap_height = UpperMedian(std::move(heights));
    refined.width_factor =
        std::clamp(UpperMedian(std::move(widths)) / refined.cap_height, 0.5, 1.8);
  }
  return refined;
}

struct Cutting {
  Solution solution;
  RowModel model;
};

Cutting BestCutting(const cv::Mat& row, const std::vector<int>& ink, const SpanExtents& extents,
                    const std::vector<Expected>& expected, std::vector<CutPlace>& places) {
  places = CutPlaces(ink, row.rows);
  constexpr double kThroughCounter = 3;
  for (CutPlace& place : places) {
    if (extents.CutsCounter(place.column)) place.cost += kThroughCounter;
  }
  Cutting best;
  for (RowModel model : Models(row, expected)) {
    Solution solution = Solve(places, extents, expected, model);
    if (solution.spans.empty()) continue;
    const RowModel refined = Refined(model, solution, places, extents, expected);
    Solution again = Solve(places, extents, expected, refined);
    if (!again.spans.empty() && again.cost < solution.cost) {
      solution = std::move(again);
      model = refined;
    }
    if (solution.cost < best.solution.cost) best = {std::move(solution), model};
  }
  return best;
}

/// Lettering drawn in outline, or worn through, has other counters than its characters: then their
/// number says nothing.
bool CountersMislead(const Cutting& cutting, const std::vector<CutPlace>& places,
                     const SpanExtents& extents, const std::vector<Expected>& expected) {
  constexpr double kMost = 0.3;
  double wrong = 0;
  double counted = 0;
  for (std::size_t k = 0; k < cutting.solution.spans.size(); ++k) {
    if (!expected[k].counters) continue;
    const auto [p, q] = cutting.solution.spans[k];
    counted += 1;
    wrong += extents.Of(places[p].column, places[q].column).counters != *expected[k].counters;
  }
  return wrong > kMost * counted;
}

}  // namespace

RowCuts CutRow(const cv::Mat& row, const std::string& text, const std::string& mark) {
  RowCuts out;
  auto expected = ExpectedCharacters(text, mark);
  if (expected.empty() || row.empty()) return out;
  const auto ink = ColumnInk(row);
  SpanExtents extents(row, ink);
  std::vector<CutPlace> places;
  Cutting cutting = BestCutting(row, ink, extents, expected, places);
  if (CountersMislead(cutting, places, extents, expected)) {
    for (Expected& e : expected) e.counters.reset();
    extents.ForgetCounters();
    cutting = BestCutting(row, ink, extents, expected, places);
  }
  const Solution& best = cutting.solution;
  if (best.spans.empty()) return out;
  out.cost = best.cost / static_cast<double>(expected.size());
  out.cap_height = cutting.model.cap_height;
  out.baseline = cutting.model.baseline;
  for (std::size_t k = 0; k < expected.size(); ++k) {
    const auto [p, q] = best.spans[k];
    const Extent e = extents.Of(places[p].column, places[q].column);
    if (e.left < 0) continue;
    out.cuts.push_back(
        {expected[k].index, expected[k].character, e.left, e.right, e.top, e.bottom + 1});
  }
  if (out.cuts.size() != expected.size()) out.cost = 1e9;
  return out;
}

}  // namespace debossier::reading
