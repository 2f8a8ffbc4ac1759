#include "separate/coverage.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "base/result.h"
#include "base/vector_clones.h"

namespace debossier::separate {

Eigen::Matrix3d PixelGrid::PhotoFromMap() const {
  Eigen::Matrix3d m = Eigen::Matrix3d::Identity();
  m(0, 0) = scale_x;
  m(1, 1) = scale_y;
  m(0, 2) = 0.5 * scale_x - 0.5 + origin.x;
  m(1, 2) = 0.5 * scale_y - 0.5 + origin.y;
  return m;
}

double SmoothingFor(double cap_height_px) {
  constexpr double kShareOfCap = 0.01;
  constexpr double kMostPx = 2.0;
  // A pixel's noise is there whatever the size, but small letters bear less than a pixel.
  const double least = std::clamp(0.02 * cap_height_px, 0.4, 1.0);
  return std::clamp(kShareOfCap * cap_height_px, least, kMostPx);
}

cv::Mat CutOut(const cv::Mat& bgr, const cv::Rect& wanted, double reduction, double smoothing_px,
               PixelGrid* grid) {
  const cv::Rect clipped = wanted & cv::Rect(0, 0, bgr.cols, bgr.rows);
  grid->origin = clipped;
  cv::Mat cut = bgr(clipped);
  if (smoothing_px > 0) {
    cv::Mat smooth;
    cv::GaussianBlur(cut, smooth, cv::Size(), smoothing_px);
    cut = smooth;
  }
  if (reduction > 1.05) {
    const cv::Size size(std::max(1, cvRound(clipped.width / reduction)),
                        std::max(1, cvRound(clipped.height / reduction)));
    cv::Mat reduced;
    cv::resize(cut, reduced, size, 0, 0, cv::INTER_AREA);
    cut = reduced;
  }
  grid->scale_x = static_cast<double>(clipped.width) / cut.cols;
  grid->scale_y = static_cast<double>(clipped.height) / cut.rows;
  grid->smoothing_px = smoothing_px / std::sqrt(grid->scale_x * grid->scale_y);
  return cut;
}

namespace {

// Of N channels: three of a photo, one of a drawing.
template <int N>
using Colour = cv::Vec<float, N>;
template <int N>
using Metric = cv::Matx<float, N, N>;

/// One cell of a coarse grid over the picture, `reduce` pixels a side.
template <int N>
struct Cell {
  Colour<N> colour = Colour<N>::all(0);  ///< Sum of labelled pixels' colours over the cell's area.
  float weight = 0;                      ///< Share of the cell that is labelled.
};

/// A coarse grid; cell (i, j) is centred at pixel ((i + 0.5) * reduce - 0.5, ...).
template <class Value>
struct CellGrid {
  int columns = 0;
  int rows = 0;
  std::vector<Value> cells;

  CellGrid(int columns_, int rows_)
      : columns(columns_), rows(rows_), cells(static_cast<std::size_t>(columns_ * rows_)) {}
  Value* Row(int y) { return cells.data() + static_cast<std::ptrdiff_t>(y) * columns; }
  const Value* Row(int y) const { return cells.data() + static_cast<std::ptrdiff_t>(y) * columns; }
};

/// Where a pixel stands between two cells.
struct Between {
  int first = 0;
  int second = 0;
  float share = 0;  ///< Of the second.
};

Between CellsAbout(int pixel, int reduce, int count) {
  const float at = (static_cast<float>(pixel) + 0.5f) / static_cast<float>(reduce) - 0.5f;
  const int first = static_cast<int>(std::floor(at));
  return {std::clamp(first, 0, count - 1), std::clamp(first + 1, 0, count - 1),
          at - static_cast<float>(first)};
}

/// Blurred by `sigma` cells, with nothing beyond the border.
template <int N>
void Blur(CellGrid<Cell<N>>& grid, double sigma) {
  static_assert(sizeof(Cell<N>) == (N + 1) * sizeof(float));
  cv::Mat view(grid.rows, grid.columns, CV_32FC(N + 1), grid.cells.data());
  cv::GaussianBlur(view, view, cv::Size(), sigma, sigma, cv::BORDER_CONSTANT);
}

/// The parts of local means: sums of colour and weight by cells.
template <int N>
struct Sums {
  CellGrid<Cell<N>> foil;
  CellGrid<Cell<N>> ground;
};

/// The channels apart, so that loops over a row work on many pixels at once.
template <int N>
using Planes = std::array<cv::Mat, N>;

/// Adds a row's colour where the mask (0 or 255) is on.
DEBOSSIER_VECTOR_CLONES
void AddMasked(const unsigned char* colour, const unsigned char* on, int width,
               std::uint16_t* __restrict sum) {
  for (int x = 0; x < width; ++x) {
    sum[x] = static_cast<std::uint16_t>(sum[x] + (colour[x] & on[x]));
  }
}

DEBOSSIER_VECTOR_CLONES
void CountMasked(const unsigned char* on, int width, std::uint16_t* __restrict count) {
  for (int x = 0; x < width; ++x) count[x] = static_cast<std::uint16_t>(count[x] + (on[x] & 1));
}

/// Sums over both masks (0 or 255): down the rows of a line of cells first, then by cell.
template <int N>
Sums<N> SumCells(const Planes<N>& planes, const cv::Mat& foil, const cv::Mat& ground, int reduce) {
  constexpr int kMostRows = 256;  // of 255 each fit 16 bits
  DEBOSSIER_ASSERT(reduce <= kMostRows);
  const int width = foil.cols;
  const int columns = (width + reduce - 1) / reduce;
  const int rows = (foil.rows + reduce - 1) / reduce;
  Sums<N> sums{{columns, rows}, {columns, rows}};
  const float area = 1.f / static_cast<float>(reduce * reduce);
  std::array<std::vector<std::uint16_t>, N + 1> down;  // the channels, and the count
  for (auto& d : down) d.resize(static_cast<std::size_t>(width));
  const auto add = [&](const cv::Mat& mask, int row, Cell<N>* cells) {
    for (auto& d : down) std::fill(d.begin(), d.end(), std::uint16_t{0});
    const int last = std::min((row + 1) * reduce, mask.rows);
    for (int y = row * reduce; y < last; ++y) {
      const auto* on = mask.ptr<unsigned char>(y);
      for (std::size_t k = 0; k < N; ++k) {
        AddMasked(planes[k].template ptr<unsigned char>(y), on, width, down[k].data());
      }
      CountMasked(on, width, down[N].data());
    }
    for (int column = 0; column < columns; ++column) {
      const auto begin = static_cast<std::size_t>(column * reduce);
      const auto end = static_cast<std::size_t>(std::min((column + 1) * reduce, width));
      std::array<unsigned, N + 1> total{};
      for (std::size_t k = 0; k <= N; ++k) {
        for (std::size_t x = begin; x < end; ++x) total[k] += down[k][x];
      }
      for (int k = 0; k < N; ++k) {
        cells[column].colour[k] = static_cast<float>(total[static_cast<std::size_t>(k)]) * area;
      }
      cells[column].weight = area * static_cast<float>(total[N]);
    }
  };
  for (int row = 0; row < rows; ++row) {
    add(foil, row, sums.foil.Row(row));
    add(ground, row, sums.ground.Row(row));
  }
  return sums;
}

template <int N>
Colour<N> GlobalMean(const CellGrid<Cell<N>>& sums) {
  auto colour = cv::Vec<double, N>::all(0);
  double weight = 1e-6;
  for (const Cell<N>& cell : sums.cells) {
    colour += cv::Vec<double, N>(cell.colour);
    weight += cell.weight;
  }
  return Colour<N>(colour * (1 / weight));
}

/// Local means, pulled towards `prior` with the weight of `share` of a full window.
template <int N>
CellGrid<Colour<N>> LocalMean(const CellGrid<Cell<N>>& sums, const Colour<N>& prior, float share) {
  CellGrid<Colour<N>> mean(sums.columns, sums.rows);
  for (std::size_t i = 0; i < sums.cells.size(); ++i) {
    mean.cells[i] = (sums.cells[i].colour + prior * share) * (1.f / (sums.cells[i].weight + share));
  }
  return mean;
}

/// Inverse covariance of the ground's colour about its local mean. Foil that is not of the
/// lettering (ornaments, other words) lies in the ground too and must not widen it, so what lies
/// far out is left out, twice.
cv::Matx33f GroundMetric(const cv::Mat& bgr, const CellGrid<cv::Vec3f>& ground_mean,
                         const cv::Mat& ground, int reduce) {
  constexpr double kEnough = 30'000;
  const int step = std::max(
      1, static_cast<int>(std::ceil(std::sqrt(static_cast<double>(bgr.total()) / kEnough))));
  std::vector<cv::Vec3f> differences;
  differences.reserve(static_cast<std::size_t>(kEnough));
  for (int y = 0; y < bgr.rows; y += step) {
    const auto* colour = bgr.ptr<cv::Vec3b>(y);
    const auto* label = ground.ptr<unsigned char>(y);
    const Between down = CellsAbout(y, reduce, ground_mean.rows);
    const cv::Vec3f* above = ground_mean.Row(down.first);
    const cv::Vec3f* below = ground_mean.Row(down.second);
    for (int x = 0; x < bgr.cols; x += step) {
      if (label[x] == 0) continue;
      const Between over = CellsAbout(x, reduce, ground_mean.columns);
      const cv::Vec3f left = above[over.first] * (1 - down.share) + below[over.first] * down.share;
      const cv::Vec3f right =
          above[over.second] * (1 - down.share) + below[over.second] * down.share;
      differences.push_back(cv::Vec3f(colour[x]) - (left * (1 - over.share) + right * over.share));
    }
  }
  // Squared distance that 97 % of a normal cloud in three dimensions keep; the covariance of what
  // is left is 0.93 of the whole's (chi-square distributions of 3 and 5 degrees of freedom).
  constexpr float kFar = 9;
  constexpr double kKept = 0.93;
  cv::Matx33f metric = cv::Matx33f::zeros();
  for (int round = 0; round < 3; ++round) {
    std::array<double, 6> sum{};
    double count = 0;
    for (const cv::Vec3f& d : differences) {
      if (round > 0 && d.dot(metric * d) > kFar) continue;
      sum[0] += d[0] * d[0];
      sum[1] += d[0] * d[1];
      sum[2] += d[0] * d[2];
      sum[3] += d[1] * d[1];
      sum[4] += d[1] * d[2];
      sum[5] += d[2] * d[2];
      count += 1;
    }
    const double scale = 1 / (std::max(1.0, count) * (round > 0 ? kKept : 1.0));
    // The floor keeps a flat or clipped channel from taking all the weight.
    const cv::Matx33d covariance =
        cv::Matx33d(sum[0], sum[1], sum[2], sum[1], sum[3], sum[4], sum[2], sum[4], sum[5]) *
            scale +
        cv::Matx33d::eye() * 4.0;
    metric = cv::Matx33f(covariance.inv());
  }
  return metric;
}

/// The coverage as a local linear function of the colour: a = weight . c - offset.
template <int N>
struct Discriminant {
  Colour<N> weight = Colour<N>::all(0);
  float offset = 0;
};

template <int N>
CellGrid<Discriminant<N>> DiscriminantOf(const CellGrid<Colour<N>>& foil,
                                         const CellGrid<Colour<N>>& ground, const Metric<N>& metric,
                                         float typical_norm) {
  CellGrid<Discriminant<N>> out(foil.columns, foil.rows);
  for (std::size_t i = 0; i < out.cells.size(); ++i) {
    const Colour<N> step = foil.cells[i] - ground.cells[i];
    const Colour<N> weighted = metric * step;
    // Where the local foil cannot be told from the ground, alpha fades instead of exploding.
    const float denominator = std::max(step.dot(weighted), 0.15f * typical_norm);
    out.cells[i].weight = weighted * (1 / denominator);
    out.cells[i].offset = out.cells[i].weight.dot(ground.cells[i]);
  }
  return out;
}

/// The numbers of a discriminant, one float a pixel of a row.
template <int N>
using DiscriminantRow = std::array<std::vector<float>, N + 1>;

/// A line of cells, linear between their centres.
template <int N>
void Expand(const Discriminant<N>* cells, const std::vector<Between>& over,
            DiscriminantRow<N>& row) {
  for (std::size_t x = 0; x < over.size(); ++x) {
    const Discriminant<N>& left = cells[over[x].first];
    const Discriminant<N>& right = cells[over[x].second];
    const float share = over[x].share;
    for (int k = 0; k < N; ++k) {
      row[static_cast<std::size_t>(k)][x] =
          left.weight[k] + (right.weight[k] - left.weight[k]) * share;
    }
    row[N][x] = left.offset + (right.offset - left.offset) * share;
  }
}

/// Adds one coefficient, `share` of the way from `above` to `below`, times one channel.
DEBOSSIER_VECTOR_CLONES
void AddTerm(const float* above, const float* below, float share, const unsigned char* channel,
             int width, float* __restrict out) {
  for (int x = 0; x < width; ++x) {
    out[x] += (above[x] + (below[x] - above[x]) * share) * static_cast<float>(channel[x]);
  }
}

/// Takes the offset away and clips.
DEBOSSIER_VECTOR_CLONES
void TakeOffset(const float* above, const float* below, float share, int width,
                float* __restrict out) {
  for (int x = 0; x < width; ++x) {
    const float v = out[x] - (above[x] + (below[x] - above[x]) * share);
    out[x] = v < -0.5f ? -0.5f : (v > 1.5f ? 1.5f : v);
  }
}

/// Evaluates the discriminant, bilinear between the cells' centres.
template <int N>
void Evaluate(const Planes<N>& planes, const CellGrid<Discriminant<N>>& cells, int reduce,
              cv::Mat& alpha) {
  const cv::Size size = planes[0].size();
  alpha = cv::Mat::zeros(size, CV_32F);
  std::vector<Between> over(static_cast<std::size_t>(size.width));
  for (int x = 0; x < size.width; ++x) {
    over[static_cast<std::size_t>(x)] = CellsAbout(x, reduce, cells.columns);
  }
  DiscriminantRow<N> above;
  DiscriminantRow<N> below;
  for (auto& v : above) v.resize(over.size());
  for (auto& v : below) v.resize(over.size());
  int above_row = -1;
  int below_row = -1;
  for (int y = 0; y < size.height; ++y) {
    const Between down = CellsAbout(y, reduce, cells.rows);
    if (down.first != above_row) {
      if (down.first == below_row) {
        std::swap(above, below);
        below_row = -1;
      } else {
        Expand(cells.Row(down.first), over, above);
      }
      above_row = down.first;
    }
    if (down.second != below_row) {
      Expand(cells.Row(down.second), over, below);
      below_row = down.second;
    }
    auto* out = alpha.ptr<float>(y);
    for (std::size_t k = 0; k < N; ++k) {
      AddTerm(above[k].data(), below[k].data(), down.share,
              planes[k].template ptr<unsigned char>(y), size.width, out);
    }
    TakeOffset(above[N].data(), below[N].data(), down.share, size.width, out);
  }
}

int CellSize(double cap_height_px) { return std::max(1, static_cast<int>(cap_height_px / 8)); }

/// Standard deviation of a local mean's window.
double WindowInCells(double window, double cap_height_px, int reduce) {
  return std::max(0.8, window * cap_height_px / reduce);
}

/// What the labelled pixels say of both colours, over the whole picture and by cells.
template <int N>
struct Means {
  int reduce = 1;
  Colour<N> foil_prior;
  Colour<N> ground_prior;
  CellGrid<Colour<N>> foil;
  CellGrid<Colour<N>> ground;
};

template <int N>
Means<N> LearnMeans(const Planes<N>& planes, const cv::Mat& foil, const cv::Mat& ground,
                    double cap_height_px, const CoverageOptions& options) {
  constexpr float kFullWindow = 0.3F;  // its usual weight: the photo's mean stands beside that
  constexpr float kGroundPrior = 0.02F;
  const int reduce = CellSize(cap_height_px);
  Sums<N> sums = SumCells<N>(planes, foil, ground, reduce);
  const Colour<N> foil_prior = GlobalMean(sums.foil);
  const Colour<N> ground_prior = GlobalMean(sums.ground);
  Blur(sums.foil, WindowInCells(options.foil_window, cap_height_px, reduce));
  Blur(sums.ground, WindowInCells(options.ground_window, cap_height_px, reduce));
  const float foil_share = static_cast<float>(options.prior_weight) * kFullWindow;
  return {reduce, foil_prior, ground_prior, LocalMean(sums.foil, foil_prior, foil_share),
          LocalMean(sums.ground, ground_prior, kGroundPrior)};
}

/// The coverage from both colours under the metric of the ground's noise.
template <int N>
cv::Mat Separated(const Planes<N>& planes, const Means<N>& means, const Metric<N>& metric,
                  float typical_norm, const CoverageOptions& options) {
  cv::Mat alpha;
  Evaluate<N>(planes, DiscriminantOf<N>(means.foil, means.ground, metric, typical_norm),
              means.reduce, alpha);
  if (options.smoothing_px > 0) {
    cv::GaussianBlur(alpha, alpha, cv::Size(), options.smoothing_px, 0, cv::BORDER_REPLICATE);
  }
  return alpha;
}

constexpr float kLeastNorm = 1e-3F;

}  // namespace

Coverage GuidedCoverage(const cv::Mat& bgr, const PixelGrid& grid, const cv::Mat& foil,
                        const cv::Mat& ground, double cap_height_px,
                        const CoverageOptions& options) {
  Coverage out;
  out.grid = grid;
  Planes<3> planes;
  cv::split(bgr, planes.data());
  const Means<3> means = LearnMeans<3>(planes, foil, ground, cap_height_px, options);
  const cv::Matx33f metric = GroundMetric(bgr, means.ground, ground, means.reduce);
  const cv::Vec3f typical = means.foil_prior - means.ground_prior;
  const float typical_norm = std::max(kLeastNorm, typical.dot(metric * typical));
  out.contrast = std::sqrt(typical_norm);
  out.foil_colour = means.foil_prior;
  out.ground_colour = means.ground_prior;
  out.direction = metric * typical;
  out.alpha = Separated<3>(planes, means, metric, typical_norm, options);
  cv::Scalar mean;
  cv::Scalar deviation;
  cv::meanStdDev(out.alpha, mean, deviation, ground);
  out.noise = deviation[0];
  return out;
}

cv::Mat GuidedCoverageOfDrawing(const cv::Mat& codes, const cv::Mat& foil, const cv::Mat& ground,
                                double cap_height_px, const CoverageOptions& options) {
  const Planes<1> planes{codes};
  const Means<1> means = LearnMeans<1>(planes, foil, ground, cap_height_px, options);
  const float typical = means.foil_prior[0] - means.ground_prior[0];
  return Separated<1>(planes, means, Metric<1>(1), std::max(kLeastNorm, typical * typical),
                      options);
}

}  // namespace debossier::separate
