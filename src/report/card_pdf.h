// The scale card as a page to print: the card itself, a check line and what to do, in plain words.
//
// Vector, true size, black only. The same bytes on every run: the document has no date.
// Frame of the constants: page (mm, y down, origin at the upper left corner).
// Not for: finding the card in a photo; see card/find_card.h.
#pragma once

#include <string>

#include "base/result.h"
#include "report/overlay_pdf.h"

namespace debossier::report {

/// Where the card's upper left corner lies on the page, for both papers.
inline constexpr double kCardLeftMm = 30;
inline constexpr double kCardTopMm = 42;

/// Draws the page. Refuses with kInternal where Cairo fails.
Result<std::string> CardPdf(const PdfOptions& options = {});

}  // namespace debossier::report
