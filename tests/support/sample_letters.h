// Plain letters of straight strokes for hand-made letterings.
//
// Frame: cap height 1, y up, left edge at x = 0, baseline at y = 0.
#pragma once

#include "outline/outline.h"

namespace debossier::test_support {

/// One of A D E I L M N T V, or 'R' for the registered sign (a ring with a letter, height 1).
outline::Outline SampleLetter(char letter);

/// The E of another die: the middle bar is short and low, and the foot runs out in a spur.
outline::Outline OtherE();

}  // namespace debossier::test_support
