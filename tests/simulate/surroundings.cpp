#include "simulate/surroundings.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace debossier::simulate {
namespace {

using outline::Box;

float SmoothStep(double t) {
  t = std::clamp(t, 0.0, 1.0);
  return static_cast<float>(t * t * (3 - 2 * t));
}

/// A straight line beside the lettering; `clearance` (mm) grows away from the lettering.
struct Side {
  Point base = Point::Zero();  ///< On the line, stamp frame.
  Point along{1, 0};
  Point away{0, 1};
};

Side DrawSide(const Box& lettering, double clearance, Random& random) {
  const double lean = random.Uniform(-0.03, 0.03);
  const int which = random.Below(4);
  Point away = which == 0   ? Point(0, 1)
               : which == 1 ? Point(0, -1)
               : which == 2 ? Point(1, 0)
                            : Point(-1, 0);
  away = Point(away.x() - lean * away.y(), away.y() + lean * away.x());
  // Far enough that the turned line stays clear of the box's corners.
  const double half =
      std::abs(away.x()) * lettering.width() / 2 + std::abs(away.y()) * lettering.height() / 2;
  return {lettering.centre() + (half + clearance) * away, Point(-away.y(), away.x()), away};
}

struct StitchRow {
  Side side;
  double period_mm = 3;
  double length_mm = 2.4;
  double radius_mm = 0.25;
  double slant = 0;
  double phase = 0;
};

/// One stitch at a point given in mm from its middle: `u` along the thread, `v` across.
struct StitchSection {
  float thread = 0;
  float tone = 1;
  float rise_mm = 0;
  float shade = 1;
};

StitchSection SectionAt(const StitchRow& row, double u, double v) {
  StitchSection section;
  const double half = 0.5 * row.length_mm;
  // A thread bows up in the middle and dives into a hole at both ends.
  const double reach = std::clamp(std::abs(u) / half, 0.0, 1.0);
  const double radius = row.radius_mm * std::sqrt(std::max(0.0, 1 - 0.35 * reach * reach));
  const double past = std::max(0.0, std::abs(u) - half + radius);
  const double distance = std::hypot(past, v);
  section.thread = SmoothStep((radius - distance) / 0.04 + 0.5);
  const double round = std::sqrt(std::max(0.0, 1 - distance * distance / (radius * radius)));
  section.rise_mm = static_cast<float>(radius * round * (1 - 0.8 * reach * reach * reach));
  const double twist = std::sin(2 * std::numbers::pi * (u / 0.55 + 0.8 * v / radius));
  section.tone = static_cast<float>((0.86 + 0.14 * twist) * (1 - 0.45 * std::pow(reach, 6)));
  const double hole = std::hypot(std::abs(u) - half - 0.06, v) / (1.1 * row.radius_mm);
  const double under = std::max(0.0, distance - radius) / 0.16;
  section.shade =
      static_cast<float>((1 - 0.85 * std::exp(-hole * hole)) * (1 - 0.35 * std::exp(-under)));
  return section;
}

void AddStitches(const StitchRow& row, double mm, PanelFields& fields) {
  const double reach = 6 * row.radius_mm;
  for (int j = 0; j < fields.grid.size.height; ++j) {
    for (int i = 0; i < fields.grid.size.width; ++i) {
      const Point offset = mm * (fields.grid.At(i, j) - row.side.base);
      const double across = offset.dot(row.side.away);
      if (std::abs(across) > reach) continue;
      // The row draws the leather in.
      fields.relief(j, i) -= static_cast<float>(0.12 * std::exp(-across * across / 0.25));
      const double along = offset.dot(row.side.along) + row.phase;
      const double u = along - row.period_mm * std::round(along / row.period_mm);
      const StitchSection section = SectionAt(row, u, across - row.slant * u);
      fields.reflect(j, i) *= section.shade;
      fields.thread(j, i) = section.thread;
      fields.thread_tone(j, i) = section.tone;
      // The thread has no grain.
      fields.relief(j, i) = (1 - section.thread) * fields.relief(j, i) + section.rise_mm;
    }
  }
}

/// The leather ends at the side's line: a rounded, darker rim, then what lies behind.
void AddEdge(const Side& side, double mm, Random random, PanelFields& fields) {
  const double rounding = random.Uniform(0.3, 0.9);
  const double rim = random.Uniform(0.1, 0.35);
  const double behind = random.Uniform(0.08, 0.5);
  const Field waver = SmoothNoise(fields.grid.size, 1.5 * fields.cells_per_mm, random.Fork(1));
  const Field grit =
      FractalNoise(fields.grid.size, 0.5 * fields.cells_per_mm, 3, 0.7, random.Fork(2));
  for (int j = 0; j < fields.grid.size.height; ++j) {
    for (int i = 0; i < fields.grid.size.width; ++i) {
      const double out =
          mm * (fields.grid.At(i, j) - side.base).dot(side.away) + 0.02 * waver(j, i);
      if (out < -rounding - 0.2) continue;
      const double t = std::clamp((out + rounding) / rounding, 0.0, 1.0);
      fields.relief(j, i) -= static_cast<float>(rounding * (1 - std::sqrt(1 - 0.9 * t * t)) * 0.7);
      if (out > -rim) fields.reflect(j, i) *= 0.72f;
      fields.backing(j, i) = SmoothStep(out / 0.06 + 0.5);
      if (out <= 0) continue;
      // The panel's shadow on what lies under it fades outward.
      const double shadow = 1 - 0.75 * std::exp(-out / 0.7);
      fields.reflect(j, i) = static_cast<float>(shadow * behind * (1 + 0.10 * grit(j, i)));
      fields.relief(j, i) = static_cast<float>(0.01 * grit(j, i));
    }
  }
}

struct Scratch {
  Point from;
  Point bend;
  Point to;
  double width_mm = 0.06;
  double depth_mm = 0.01;
  float lighter = 1.3f;
};

void AddScratch(const Scratch& scratch, double mm, PanelFields& fields) {
  constexpr int kSteps = 24;
  const double reach = 3 * scratch.width_mm / mm;
  std::array<Point, kSteps + 1> points;
  for (int k = 0; k <= kSteps; ++k) {
    const double t = static_cast<double>(k) / kSteps;
    points[k] =
        (1 - t) * (1 - t) * scratch.from + 2 * t * (1 - t) * scratch.bend + t * t * scratch.to;
  }
  Box box;
  for (const Point& p : points) box.Add(p);
  const Point low = fields.grid.CellOf(box.min - Point(reach, reach));
  const Point high = fields.grid.CellOf(box.max + Point(reach, reach));
  for (int j = std::max(0, static_cast<int>(low.y()));
       j <= std::min(fields.grid.size.height - 1, static_cast<int>(high.y())); ++j) {
    for (int i = std::max(0, static_cast<int>(low.x()));
         i <= std::min(fields.grid.size.width - 1, static_cast<int>(high.x())); ++i) {
      const Point at = fields.grid.At(i, j);
      double nearest = reach;
      double fade = 0;
      for (int k = 0; k < kSteps; ++k) {
        const Point span = points[k + 1] - points[k];
        const double t = std::clamp((at - points[k]).dot(span) / span.squaredNorm(), 0.0, 1.0);
        const double distance = (at - points[k] - t * span).norm();
        if (distance >= nearest) continue;
        nearest = distance;
        fade = std::sin(std::numbers::pi * (k + t) / kSteps);
      }
      const double profile = nearest * mm / scratch.width_mm;
      const double strength = fade * std::exp(-profile * profile);
      if (strength < 0.01) continue;
      fields.relief(j, i) -= static_cast<float>(scratch.depth_mm * strength);
      fields.reflect(j, i) *= static_cast<float>(1 + (scratch.lighter - 1) * strength);
      fields.keep(j, i) = std::min(fields.keep(j, i), static_cast<float>(4 * (0.45 - strength)));
    }
  }
}

Scratch DrawScratch(const Grid& grid, Random& random) {
  const double width = grid.step * grid.size.width;
  const double height = grid.step * grid.size.height;
  Scratch scratch;
  scratch.from = grid.origin + Point(random.Uniform() * width, random.Uniform() * height);
  const double angle = random.Uniform(0, 2 * std::numbers::pi);
  const double length = random.Uniform(0.5, 3.5);
  scratch.to = scratch.from + length * Point(std::cos(angle), std::sin(angle));
  scratch.bend = 0.5 * (scratch.from + scratch.to) +
                 0.12 * length * random.Normal() * Point(-std::sin(angle), std::cos(angle));
  scratch.width_mm = random.Uniform(0.025, 0.07);
  scratch.depth_mm = random.Uniform(0.004, 0.015);
  scratch.lighter = static_cast<float>(random.Uniform(0.8, 1.7));
  return scratch;
}

}  // namespace

void AddSurroundings(const Box& lettering, const Amounts& amounts, Random random,
                     PanelFields& fields) {
  const double mm = amounts.cap_height_mm;
  for (int k = 0; k < static_cast<int>(amounts.scratches); ++k) {
    AddScratch(DrawScratch(fields.grid, random), mm, fields);
  }
  Random layout = random.Fork(7);
  const double room = std::max(0.45, amounts.margin);
  const Side stitch_side = DrawSide(lettering, layout.Uniform(0.4, 0.75) * room, layout);
  StitchRow row;
  row.side = stitch_side;
  row.period_mm = layout.Uniform(2.4, 3.6);
  row.length_mm = row.period_mm - layout.Uniform(0.45, 0.8);
  row.radius_mm = layout.Uniform(0.20, 0.32);
  row.slant = layout.Uniform(-0.12, 0.12);
  row.phase = layout.Uniform(0, row.period_mm);
  if (amounts.stitches >= 0.5) AddStitches(row, mm, fields);
  if (amounts.edge >= 0.5) {
    // Beside the stitches where there are some, else on a side of its own.
    Side side = stitch_side;
    side.base +=
        (amounts.stitches >= 0.5 ? layout.Uniform(1.6, 3.0) / mm : 0.15 * room) * side.away;
    AddEdge(side, mm, layout.Fork(1), fields);
  }
}

}  // namespace debossier::simulate
