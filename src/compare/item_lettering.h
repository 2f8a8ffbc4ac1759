// An item's lettering, put together again from the features that the set keeps of it.
//
// Frame: stamp. Not for: letterforms; those are the set's.
#pragma once

#include <vector>

#include "outline/lettering.h"
#include "refset/refset.h"

namespace debossier::compare {

/// The set's letters at the item's places, widths, heights and feet. Letters that the item does not
/// show are left out.
std::vector<outline::Element> LetteringOfItem(const refset::RefSet& set, const refset::Item& item);

}  // namespace debossier::compare
