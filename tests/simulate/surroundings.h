// What else lies in the crop: the leather's edge, a row of stitches, scratches.
//
// Frame: stamp; the edge and the stitches keep clear of the lettering, scratches do not.
#pragma once

#include "simulate/panel.h"

namespace debossier::simulate {

/// Lays everything that `amounts` asks for onto the fields. `cap_height_mm` turns the stamp
/// frame's cap heights into mm.
void AddSurroundings(const outline::Box& lettering, const Amounts& amounts, Random random,
                     PanelFields& fields);

}  // namespace debossier::simulate
