#include "report/examine.h"

#include "report/pair_picture.h"
#include "results/result_json.h"

namespace debossier::report {

bool WantsPdf(PdfPolicy policy, compare::Finding finding) {
  return policy == PdfPolicy::kAll ||
         (policy == PdfPolicy::kDepartures && finding == compare::Finding::kDeparts);
}

Result<Examined> Examine(const image::Photo& photo, const refset::RefSet& set,
                         const ExamineOptions& options) {
  auto comparison = compare::ComparePhoto(photo, set, options.compare);
  if (!comparison) return PassOn(comparison);
  Examined examined;
  examined.json = ResultJson(*comparison);
  const bool wants_pdf = WantsPdf(options.pdf_policy, comparison->finding);
  std::shared_ptr<const VerifiedPicture> verified;
  if (options.verified && (wants_pdf || options.wants_pair)) {
    verified = options.verified->Clearest(set, comparison->own_item);
  }
  if (options.wants_pair) examined.pair_svg = PairSvg(photo, *comparison, verified.get());
  if (wants_pdf) {
    auto pdf = OverlayPdf(*comparison, photo, options.pdf, verified.get());
    if (!pdf) return PassOn(pdf);
    examined.pdf = *std::move(pdf);
  }
  examined.comparison = *std::move(comparison);
  return examined;
}

}  // namespace debossier::report
