// The report of one comparison as a PDF document that a client, a marketplace or a second
// specialist can follow.
//
// Page one gives the finding, the questioned lettering over a verified one as photographs, the same
// pair with outlines, and the strongest departures; then the other departures, enlarged strips of
// the lettering, all measurements, a plate for each letter of another form, the provenance and the
// cautions. A JPEG photo goes in byte for byte.
// The same comparison and photo give the same bytes; the creation date is that of the environment
// variable SOURCE_DATE_EPOCH (reproducible-builds.org), else the document has none.
// Not for: computing anything; what the pages say stands in the comparison.
#pragma once

#include <string>

#include "base/result.h"
#include "compare/comparison.h"
#include "image/photo.h"
#include "report/report_fields.h"

namespace debossier::report {

enum class Paper { kA4, kLetter };
/// Width and height in points.
outline::Point PageSize(Paper paper);

struct PdfOptions {
  Paper paper = Paper::kA4;
  /// Families to try in turn; other scripts come from whatever installed font has them. The first
  /// one is the font that the project's list of packages names, so that every machine set up by
  /// that list writes the same bytes.
  std::string font_family = "DejaVu Sans,Noto Sans,Liberation Sans,sans-serif";
  int max_plates = 24;   ///< At most this many departing forms get a plate of their own.
  int max_figures = 24;  ///< At most this many departures after page one's get a figure.
  ReportFields fields;
};

struct VerifiedPicture;

/// Draws the report, with a verified item's picture where one is given. Refuses with kInternal
/// where Cairo fails.
/// @pre `photo` is the one that `comparison` is about.
Result<std::string> OverlayPdf(const compare::Comparison& comparison, const image::Photo& photo,
                               const PdfOptions& options = {},
                               const VerifiedPicture* verified = nullptr);

}  // namespace debossier::report
