// The proof sheet of a reference set: what a curator shows who asks what the set rests on.
//
// Outlines with every item's lettering laid over, the items with their basis, each item against the
// others, what the set can show, and every feature with its mean, spread and items.
// The same set gives the same bytes. Not for: computing; compare/check_set.h does that.
#pragma once

#include <string>

#include "base/result.h"
#include "compare/check_set.h"
#include "refset/refset.h"
#include "report/overlay_pdf.h"

namespace debossier::report {

/// Draws the sheet. Refuses with kInternal where Cairo fails.
/// @pre `check` is of `set`.
Result<std::string> ProofPdf(const refset::RefSet& set, const compare::SetCheck& check,
                             const PdfOptions& options = {});

}  // namespace debossier::report
