#include "simulate/field.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "base/result.h"

namespace debossier::simulate {
namespace {

std::array<float, 4> BSplineWeights(double t) {
  const double s = 1 - t;
  return {
      static_cast<float>(s * s * s / 6), static_cast<float>((3 * t * t * t - 6 * t * t + 4) / 6),
      static_cast<float>((3 * s * s * s - 6 * s * s + 4) / 6), static_cast<float>(t * t * t / 6)};
}

struct LatticeStep {
  int first = 0;
  std::array<float, 4> weights{};
};

std::vector<LatticeStep> LatticeSteps(int count, double cell) {
  std::vector<LatticeStep> steps(static_cast<std::size_t>(count));
  for (int i = 0; i < count; ++i) {
    const double at = i / cell;
    const int first = static_cast<int>(at);
    steps[i] = {first, BSplineWeights(at - first)};
  }
  return steps;
}

int Mirrored(int i, int count) {
  if (count == 1) return 0;
  const int period = 2 * (count - 1);
  i = ((i % period) + period) % period;
  return i < count ? i : period - i;
}

std::vector<float> GaussianTaps(double sigma) {
  const int radius = static_cast<int>(std::ceil(3.5 * sigma));
  std::vector<float> taps(static_cast<std::size_t>(2 * radius + 1));
  double sum = 0;
  for (int i = -radius; i <= radius; ++i) sum += std::exp(-0.5 * i * i / (sigma * sigma));
  for (int i = -radius; i <= radius; ++i) {
    taps[i + radius] = static_cast<float>(std::exp(-0.5 * i * i / (sigma * sigma)) / sum);
  }
  return taps;
}

/// Above this many cells a blur is done on a coarser copy.
constexpr double kWideBlur = 6;

Field Decimated(const Field& field, int factor) {
  Field coarse((field.rows + factor - 1) / factor, (field.cols + factor - 1) / factor);
  for (int j = 0; j < coarse.rows; ++j) {
    for (int i = 0; i < coarse.cols; ++i) {
      float sum = 0;
      for (int b = 0; b < factor; ++b) {
        const float* row = field[std::min(j * factor + b, field.rows - 1)];
        for (int a = 0; a < factor; ++a) sum += row[std::min(i * factor + a, field.cols - 1)];
      }
      coarse(j, i) = sum / static_cast<float>(factor * factor);
    }
  }
  return coarse;
}

/// Bilinear values of a field decimated by `factor`, at the full size.
Field Enlarged(const Field& coarse, cv::Size size, int factor) {
  Field full(size);
  const auto place = [factor](int at, int count, int* first, float* rest) {
    const float x = std::clamp((static_cast<float>(at) + 0.5f) / static_cast<float>(factor) - 0.5f,
                               0.0f, static_cast<float>(count - 1) - 0.001f);
    *first = static_cast<int>(x);
    *rest = x - static_cast<float>(*first);
  };
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      int row = 0;
      float v = 0;
      place(j, coarse.rows, &row, &v);
      const float* low = coarse[row];
      const float* high = coarse[row + 1];
      for (int i = 0; i < size.width; ++i) {
        int column = 0;
        float u = 0;
        place(i, coarse.cols, &column, &u);
        full(j, i) = (1 - v) * ((1 - u) * low[column] + u * low[column + 1]) +
                     v * ((1 - u) * high[column] + u * high[column + 1]);
      }
    }
  });
  return full;
}

/// A wide blur on a coarser copy. Averaging over blocks and joining by straight lines blur by
/// about (factor^2 - 1) / 12 and factor^2 / 6 already.
Field BlurredCoarsely(const Field& field, double sigma) {
  const int factor = static_cast<int>(sigma / 2.5);
  const double done = (factor * factor - 1) / 12.0 + factor * factor / 6.0;
  const double rest = std::sqrt(sigma * sigma - done) / factor;
  return Enlarged(Blurred(Decimated(field, factor), rest), field.size(), factor);
}

struct LatticePoint {
  float x = 0;
  float y = 0;
  float level = 0;
};

/// Nearest two lattice points to (x, y), both in lattice cells.
void NearestTwo(const std::vector<LatticePoint>& points, int side, float x, float y, float* nearest,
                float* second, float* level) {
  const int column = static_cast<int>(x);
  const int row = static_cast<int>(y);
  float best = 1e9f;
  float next = 1e9f;
  for (int j = row - 1; j <= row + 1; ++j) {
    const LatticePoint* line = &points[static_cast<std::size_t>(j) * side];
    for (int i = column - 1; i <= column + 1; ++i) {
      const float dx = line[i].x - x;
      const float dy = line[i].y - y;
      const float distance = dx * dx + dy * dy;
      if (distance < best) {
        next = best;
        best = distance;
        *level = line[i].level;
      } else if (distance < next) {
        next = distance;
      }
    }
  }
  *nearest = std::sqrt(best);
  *second = std::sqrt(next);
}

}  // namespace

Field SmoothNoise(cv::Size size, double cell, Random random) {
  cell = std::max(cell, 1.0);
  const auto columns = LatticeSteps(size.width, cell);
  const auto rows = LatticeSteps(size.height, cell);
  Field lattice(rows.back().first + 4, columns.back().first + 4);
  for (float& value : lattice) value = random.FieldNormal();

  Field across(lattice.rows, size.width);
  cv::parallel_for_(cv::Range(0, lattice.rows), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      for (int i = 0; i < size.width; ++i) {
        const float* knot = lattice[j] + columns[i].first;
        const auto& w = columns[i].weights;
        across(j, i) = w[0] * knot[0] + w[1] * knot[1] + w[2] * knot[2] + w[3] * knot[3];
      }
    }
  });
  // The mean square of the weights of a cubic B-spline is 151 / 315 in each direction.
  const float scale = 315.0f / 151.0f;
  Field noise(size);
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      const auto& w = rows[j].weights;
      const float* a = across[rows[j].first];
      const float* b = across[rows[j].first + 1];
      const float* c = across[rows[j].first + 2];
      const float* d = across[rows[j].first + 3];
      float* out = noise[j];
      for (int i = 0; i < size.width; ++i) {
        out[i] = scale * (w[0] * a[i] + w[1] * b[i] + w[2] * c[i] + w[3] * d[i]);
      }
    }
  });
  return noise;
}

Field FractalNoise(cv::Size size, double cell, int octaves, double persistence, Random random) {
  Field sum(size, 0.0f);
  double weight = 1;
  double variance = 0;
  for (int k = 0; k < octaves; ++k) {
    AddScaled(sum, SmoothNoise(size, cell, random.Fork(k)), weight);
    variance += weight * weight;
    weight *= persistence;
    cell /= 2;
  }
  Scale(sum, 1 / std::sqrt(variance));
  return sum;
}

Cellular CellularNoise(cv::Size size, const CellularOptions& options, Random random) {
  // The field is turned about its middle, so the lattice has to cover its diagonal.
  const double reach = std::hypot(size.width, size.height) / options.cell;
  const int side = static_cast<int>(std::ceil(reach)) + 6;
  std::vector<LatticePoint> points(static_cast<std::size_t>(side) * side);
  for (int j = 0; j < side; ++j) {
    for (int i = 0; i < side; ++i) {
      const double x = i + 0.5 + options.jitter * (random.Uniform() - 0.5);
      const double y = j + 0.5 + options.jitter * (random.Uniform() - 0.5);
      points[static_cast<std::size_t>(j) * side + i] = {
          static_cast<float>(x), static_cast<float>(y), static_cast<float>(random.Uniform())};
    }
  }
  const Field warp_x = SmoothNoise(size, options.cell * 0.7, random.Fork(101));
  const Field warp_y = SmoothNoise(size, options.cell * 0.7, random.Fork(102));
  const auto scale = static_cast<float>(1 / options.cell);
  const auto cosine = static_cast<float>(std::cos(options.angle));
  const auto sine = static_cast<float>(std::sin(options.angle));
  const auto shrink = static_cast<float>(1 / options.elongation);
  const auto warp = static_cast<float>(options.warp);
  const int middle_row = size.height / 2;
  const int middle_column = size.width / 2;
  const float middle = static_cast<float>(side) * 0.5f;
  const float limit = static_cast<float>(side) - 1.001f;

  Cellular cells{Field(size), Field(size), Field(size)};
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      const float y = static_cast<float>(j - middle_row) * scale;
      for (int i = 0; i < size.width; ++i) {
        const float x = static_cast<float>(i - middle_column) * scale;
        const float u = middle + (cosine * x + sine * y) * shrink + warp * warp_x(j, i);
        const float v = middle + cosine * y - sine * x + warp * warp_y(j, i);
        NearestTwo(points, side, std::clamp(u, 1.0f, limit - 0.001f),
                   std::clamp(v, 1.0f, limit - 0.001f), &cells.nearest(j, i), &cells.second(j, i),
                   &cells.level(j, i));
      }
    }
  });
  return cells;
}

Field Blurred(const Field& field, double sigma) {
  if (sigma < 0.05) return field.clone();
  if (sigma > kWideBlur && std::min(field.rows, field.cols) > 8 * sigma) {
    return BlurredCoarsely(field, sigma);
  }
  const std::vector<float> taps = GaussianTaps(sigma);
  const int radius = static_cast<int>(taps.size() / 2);
  Field across(field.size());
  cv::parallel_for_(cv::Range(0, field.rows), [&](const cv::Range& range) {
    std::vector<float> padded(static_cast<std::size_t>(field.cols + 2 * radius));
    for (int j = range.start; j < range.end; ++j) {
      std::copy(field[j], field[j] + field.cols, padded.begin() + radius);
      for (int i = 1; i <= radius; ++i) {
        padded[radius - i] = field(j, Mirrored(-i, field.cols));
        padded[radius + field.cols - 1 + i] = field(j, Mirrored(field.cols - 1 + i, field.cols));
      }
      float* out = across[j];
      std::fill(out, out + field.cols, 0.0f);
      for (std::size_t k = 0; k < taps.size(); ++k) {
        for (int i = 0; i < field.cols; ++i) out[i] += taps[k] * padded[i + k];
      }
    }
  });
  Field blurred(field.size(), 0.0f);
  cv::parallel_for_(cv::Range(0, field.rows), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      float* out = blurred[j];
      for (int k = -radius; k <= radius; ++k) {
        const float* in = across[Mirrored(j + k, field.rows)];
        const float tap = taps[k + radius];
        for (int i = 0; i < field.cols; ++i) out[i] += tap * in[i];
      }
    }
  });
  return blurred;
}

float Quantile(const Field& field, double q, const Field& mask) {
  std::vector<float> values;
  // Every seventh cell is enough for a share and keeps large panels quick.
  const int stride = field.total() > 100000 ? 7 : 1;
  for (std::size_t k = 0; k < field.total(); k += stride) {
    const int j = static_cast<int>(k) / field.cols;
    const int i = static_cast<int>(k) % field.cols;
    if (mask.empty() || mask(j, i) > 0) values.push_back(field(j, i));
  }
  if (values.empty()) return 0;
  const double at = std::clamp(q, 0.0, 1.0) * static_cast<double>(values.size() - 1);
  const auto nth = values.begin() + static_cast<std::ptrdiff_t>(at);
  std::nth_element(values.begin(), nth, values.end());
  return *nth;
}

void Scale(Field& field, double factor, double offset) {
  const auto by = static_cast<float>(factor);
  const auto plus = static_cast<float>(offset);
  for (int j = 0; j < field.rows; ++j) {
    float* row = field[j];
    for (int i = 0; i < field.cols; ++i) row[i] = by * row[i] + plus;
  }
}

void AddScaled(Field& to, const Field& from, double factor) {
  DEBOSSIER_ASSERT(to.size() == from.size());
  const auto by = static_cast<float>(factor);
  for (int j = 0; j < to.rows; ++j) {
    float* row = to[j];
    const float* add = from[j];
    for (int i = 0; i < to.cols; ++i) row[i] += by * add[i];
  }
}

double Mean(const Field& field) {
  double sum = 0;
  for (int j = 0; j < field.rows; ++j) {
    const float* row = field[j];
    for (int i = 0; i < field.cols; ++i) sum += row[i];
  }
  return sum / static_cast<double>(field.total());
}

void Standardise(Field& field) {
  double sum = 0;
  double squares = 0;
  for (const float value : field) {
    sum += value;
    squares += static_cast<double>(value) * value;
  }
  const double count = static_cast<double>(field.total());
  const double mean = sum / count;
  const double variance = squares / count - mean * mean;
  const double scale = variance > 1e-20 ? 1 / std::sqrt(variance) : 0;
  for (float& value : field) value = static_cast<float>((value - mean) * scale);
}

}  // namespace debossier::simulate
