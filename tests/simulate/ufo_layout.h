// Text laid out with an alphabet kept as UFO: advances only, no kerning.
//
// Frame: stamp. The alphabet's flat capital H sets the cap height, its flat x the x-height.
#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "outline/lettering.h"
#include "outline/ufo.h"
#include "typeset/font.h"

namespace debossier::simulate {

/// Lays out as typeset::LayOut does: lines centred under the first, the mark beside it. Refuses
/// with kTextNotCovered, naming the first character that is missing.
Result<outline::Lettering> LayOutUfo(const outline::UfoFont& font,
                                     const std::vector<typeset::LineSpec>& lines,
                                     const typeset::MarkSpec& mark, const outline::Frame& frame);

}  // namespace debossier::simulate
