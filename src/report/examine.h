// One photo against one set, from its bytes to the bytes of result and report.
//
// The command for a single photo and the workers of a batch both run this. Safe to call from
// several threads at once: it shares nothing but the pictures of verified items, Pango keeps a font
// map for each thread, and Cairo and Fontconfig lock what they share.
// Not for: writing files, or reading others than the photos of a set's items.
#pragma once

#include <memory>
#include <string>

#include "base/result.h"
#include "compare/compare_photo.h"
#include "image/photo.h"
#include "refset/refset.h"
#include "report/overlay_pdf.h"
#include "report/verified.h"

namespace debossier::report {

/// Which photos get a report.
enum class PdfPolicy { kAll, kDepartures, kNone };

struct ExamineOptions {
  compare::CompareOptions compare;
  PdfPolicy pdf_policy = PdfPolicy::kAll;
  PdfOptions pdf;
  bool wants_pair = false;  ///< The picture of pair_picture.h, whatever the policy.
  /// Where the reports' verified items come from; none: the set's outlines stand for them.
  std::shared_ptr<VerifiedPictures> verified;
};

struct Examined {
  compare::Comparison comparison;
  std::string json;
  std::string pdf;       ///< Empty where the policy asks for none.
  std::string pair_svg;  ///< Empty where none is wanted, or nothing was placed.
};

/// True where `policy` asks for a report of this finding.
bool WantsPdf(PdfPolicy policy, compare::Finding finding);

/// Compares and writes. Refuses as compare::ComparePhoto and OverlayPdf.
Result<Examined> Examine(const image::Photo& photo, const refset::RefSet& set,
                         const ExamineOptions& options);

}  // namespace debossier::report
