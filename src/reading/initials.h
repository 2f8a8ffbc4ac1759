// Whether the words of a line begin with a capital: each word's initial, capital and small, compete
// for the same window.
//
// Frame: pixels of the band, upright, y down. Not for: lines in capitals.
#pragma once

#include "reading/line_reading.h"

namespace debossier::reading {

/// By how much an explanation of correlation `a` is better than one of `b`: half the logarithm of
/// what they leave unexplained. Negative correlations explain nothing.
double BetterBy(double a, double b);

struct InitialsReading {
  double margin = 0;       ///< Of capital initials (linking words small or not) against small ones.
  double links_small = 0;  ///< Of small linking words against capital ones; 0 without such words.
};

/// @pre `fit` is of a text with initials and small letters, or with small letters alone.
InitialsReading ReadInitials(const LineBand& band, const StringFit& fit);

}  // namespace debossier::reading
