// What the hot die leaves: sunk relief, and foil with ragged edges, gaps and flash.
//
// The die's face is filled where the signed distance is negative. It sinks `depth`, flattens the
// grain under it, and the leather round it slopes back up and bulges a little. Foil sticks where
// `edge` is negative and `keep` positive.
// Frame: a field's cells; mm.
#pragma once

#include "simulate/field.h"
#include "simulate/levels.h"

namespace debossier::simulate {

struct Impression {
  Field relief;  ///< Grain and impression together, mm.
  Field edge;    ///< Signed distance to the foil's edge, mm, negative where foil is; band-cut.
  Field keep;    ///< Foil present where positive; passes from none to full over +-0.5.
  Field face;    ///< 1 under the die's face, 0 outside, sloping over the wall.
  double mean_gain_mm = 0;  ///< Mean local gain along the die's edge, raggedness left out.
};

/// @param distance signed distance to the die in mm, grain in mm; both at `cells_per_mm`.
Impression Press(const Field& distance, const Field& grain, double cells_per_mm,
                 const Amounts& amounts, Random random);

/// The distance (mm) beyond which the die has no effect for these amounts.
double Reach(const Amounts& amounts);

}  // namespace debossier::simulate
