// The stamped panel as the renderer reads it: one cell holds all that light meets there.
//
// Frame: stamp, on a Grid; slopes are dz/dx and dz/dy in the leather frame (y up, z outward).
#pragma once

#include <array>
#include <vector>

#include "simulate/distance_field.h"
#include "simulate/field.h"
#include "simulate/levels.h"

namespace debossier::simulate {

/// What a cell holds, by index.
enum Plane : int {
  kEdge,    ///< Signed distance to the foil's edge, mm; negative on foil.
  kKeep,    ///< Foil present from -0.5 (none) to +0.5 (full).
  kSlopeX,  ///< Leather's slopes.
  kSlopeY,
  kFoilX,  ///< Slopes of wrinkles in the foil, on top of the leather's.
  kFoilY,
  kReflect,     ///< Factor on the leather's colour.
  kOpen,        ///< Share of the room's light that reaches the place, 0 to 1.
  kGloss,       ///< Factor on the leather's shine.
  kThread,      ///< 1 on a stitch's thread, 0 beside it.
  kThreadTone,  ///< Factor on the thread's colour.
  kBacking,     ///< 1 beyond the leather's edge, 0 on it.
  kPlanes
};

using Cell = std::array<float, kPlanes>;

struct Panel {
  Grid grid;
  std::vector<Cell> cells;  ///< Row by row, lowest y first.

  /// Bilinear value; positions outside are taken at the border.
  Cell At(const Point& stamp) const;
};

/// Working fields that are packed into a panel once everything is laid on.
struct PanelFields {
  Grid grid;
  double cells_per_mm = 1;
  Field relief;  ///< mm.
  Field edge;
  Field keep;
  Field reflect;
  Field gloss;
  Field thread;
  Field thread_tone;
  Field backing;
};

/// Packs the fields; slopes and openness come from the relief, wrinkles from `random`.
Panel PackPanel(const PanelFields& fields, const Amounts& amounts, Random random);

}  // namespace debossier::simulate
