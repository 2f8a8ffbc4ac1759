#include "simulate/panel.h"

#include <algorithm>
#include <cmath>

namespace debossier::simulate {
namespace {

/// Central difference along x or y, per mm, at a cell away from the border.
float SlopeX(const Field& heights, int j, int i, float cells_per_mm) {
  const int left = std::max(i - 1, 0);
  const int right = std::min(i + 1, heights.cols - 1);
  return (heights(j, right) - heights(j, left)) * cells_per_mm / static_cast<float>(right - left);
}

float SlopeY(const Field& heights, int j, int i, float cells_per_mm) {
  const int low = std::max(j - 1, 0);
  const int high = std::min(j + 1, heights.rows - 1);
  return (heights(high, i) - heights(low, i)) * cells_per_mm / static_cast<float>(high - low);
}

/// A place lower than what lies round it sees less of the room.
Field Openness(const Field& relief, double cells_per_mm) {
  const Field near = Blurred(relief, 0.10 * cells_per_mm);
  const Field wide = Blurred(relief, 0.35 * cells_per_mm);
  Field open(relief.size());
  for (int j = 0; j < relief.rows; ++j) {
    for (int i = 0; i < relief.cols; ++i) {
      const float sunk = 5.0f * (near(j, i) - relief(j, i)) + 3.0f * (wide(j, i) - relief(j, i));
      open(j, i) = std::clamp(1.0f - sunk, 0.25f, 1.12f);
    }
  }
  return open;
}

}  // namespace

Cell Panel::At(const Point& stamp) const {
  const double x =
      std::clamp((stamp.x() - grid.origin.x()) / grid.step, 0.0, grid.size.width - 1.001);
  const double y =
      std::clamp((stamp.y() - grid.origin.y()) / grid.step, 0.0, grid.size.height - 1.001);
  const int i = static_cast<int>(x);
  const int j = static_cast<int>(y);
  const auto u = static_cast<float>(x - i);
  const auto v = static_cast<float>(y - j);
  const Cell* low = &cells[static_cast<std::size_t>(j) * grid.size.width + i];
  const Cell* high = low + grid.size.width;
  const float w00 = (1 - u) * (1 - v);
  const float w01 = u * (1 - v);
  const float w10 = (1 - u) * v;
  const float w11 = u * v;
  Cell out;
  for (int k = 0; k < kPlanes; ++k) {
    out[k] = w00 * low[0][k] + w01 * low[1][k] + w10 * high[0][k] + w11 * high[1][k];
  }
  return out;
}

Panel PackPanel(const PanelFields& fields, const Amounts& amounts, Random random) {
  const cv::Size size = fields.grid.size;
  const auto per_mm = static_cast<float>(fields.cells_per_mm);
  const Field open = Openness(fields.relief, fields.cells_per_mm);
  const double wrinkle_cell = 0.09 * fields.cells_per_mm;
  Field wrinkles = SmoothNoise(size, wrinkle_cell, random.Fork(1));
  const Field sway_x = SmoothNoise(size, 1.1 * fields.cells_per_mm, random.Fork(2));
  const Field sway_y = SmoothNoise(size, 1.1 * fields.cells_per_mm, random.Fork(3));
  const double crease_cell = 0.04 * fields.cells_per_mm;
  const bool creased = amounts.sparkle > 0;
  const Field crease_x = creased ? SmoothNoise(size, crease_cell, random.Fork(4)) : Field();
  const Field crease_y = creased ? SmoothNoise(size, crease_cell, random.Fork(5)) : Field();
  const auto sparkle = static_cast<float>(amounts.sparkle);
  const auto waves = static_cast<float>(amounts.foil_waves);
  // The slope of unit smooth noise has a standard deviation of about 0.86 a lattice cell.
  const float fine = waves * static_cast<float>(std::max(wrinkle_cell, 1.0)) / 0.86f;

  Panel panel{fields.grid, std::vector<Cell>(static_cast<std::size_t>(size.area()))};
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      for (int i = 0; i < size.width; ++i) {
        Cell& cell = panel.cells[static_cast<std::size_t>(j) * size.width + i];
        cell[kEdge] = fields.edge(j, i);
        cell[kKeep] = fields.keep(j, i);
        cell[kSlopeX] = SlopeX(fields.relief, j, i, per_mm);
        cell[kSlopeY] = SlopeY(fields.relief, j, i, per_mm);
        cell[kFoilX] = 0.8f * fine * SlopeX(wrinkles, j, i, 1) + 0.6f * waves * sway_x(j, i);
        cell[kFoilY] = 0.8f * fine * SlopeY(wrinkles, j, i, 1) + 0.6f * waves * sway_y(j, i);
        if (creased) {
          cell[kFoilX] += sparkle * crease_x(j, i);
          cell[kFoilY] += sparkle * crease_y(j, i);
        }
        cell[kReflect] = fields.reflect(j, i);
        cell[kOpen] = open(j, i);
        cell[kGloss] = fields.gloss(j, i);
        cell[kThread] = fields.thread(j, i);
        cell[kThreadTone] = fields.thread_tone(j, i);
        cell[kBacking] = fields.backing(j, i);
      }
    }
  });
  return panel;
}

}  // namespace debossier::simulate
