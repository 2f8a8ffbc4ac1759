// One document for one item from several photos: the finding over all of them, the best picture of
// each stamp, every photo's own report, and what the examiner saw besides.
//
// Photos are read, compared and let go one after the other; for the document each is read from its
// bytes once more. Not for: writing files, or reading others than photos of a set's items.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "base/result.h"
#include "compare/together.h"
#include "report/examine.h"

namespace debossier::report {

/// One photo of the item, as read from its file.
struct DossierPhoto {
  std::string name;   ///< As people know it.
  std::string bytes;  ///< Of the file; empty where it could not be read, and `unreadable` says why.
  std::optional<Error> unreadable;
  const refset::RefSet* set = nullptr;
  cv::Rect crop;  ///< Empty: the whole photo.
  std::string notes;
};

/// A dossier holds at most this many: each has its share of the false-flag rate.
inline constexpr std::size_t kMostDossierPhotos = 24;

struct DossierOptions {
  /// `examine.compare.false_flag_rate` is over all photos; `place.crop` is each photo's own.
  ExamineOptions examine;
  std::string observations;  ///< Hardware, lining, stitching: the examiner's own words, not judged.
};

/// Compares all photos. Refuses with kUsage: no photo, too many, one given twice for the same set
/// and crop, or a share of the rate below what can be told. A photo that cannot be compared is part
/// of the result.
Result<compare::ItemComparison> ExamineItem(const std::vector<DossierPhoto>& photos,
                                            const DossierOptions& options);

/// Draws the document. Refuses with kInternal where Cairo fails.
/// @pre `item` is what ExamineItem() made of these photos and options.
Result<std::string> DossierPdf(const compare::ItemComparison& item,
                               const std::vector<DossierPhoto>& photos,
                               const DossierOptions& options);

}  // namespace debossier::report
