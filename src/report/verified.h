// A verified item's lettering as a photograph, to be shown beside the questioned one.
//
// From the photos that a set keeps; the clearest is shown, never the questioned item's own.
// Not for: judging; no number comes from here.
#pragma once

#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <utility>

#include "image/photo.h"
#include "refset/refset.h"
#include "report/straightened.h"

namespace debossier::report {

struct VerifiedPicture {
  std::string item;        ///< Its id in the set.
  std::string photo_file;  ///< Its photo's name when it was entered.
  std::string photo_sha256;
  Straightened picture;  ///< Empty where there is none.
  std::string why_not;   ///< Then: why.
};

/// Pictures of one library's verified items, each read once. Safe to use from several threads.
class VerifiedPictures {
 public:
  explicit VerifiedPictures(refset::Library library) : library_(std::move(library)) {}

  /// The clearest item of the set whose photo is kept and unchanged, other than `not_item`.
  std::shared_ptr<const VerifiedPicture> Clearest(const refset::RefSet& set,
                                                  const std::string& not_item);

 private:
  refset::Library library_;
  std::mutex mutex_;
  /// By set, revision and item left out.
  std::map<std::string, std::shared_ptr<const VerifiedPicture>> known_;
};

/// Ground shown about the lettering in pictures of it, cap heights.
inline constexpr double kGroundAbout = 0.8;

/// Most pixels a cap height of pictures in a report.
inline constexpr double kMostPicturePx = 100;

}  // namespace debossier::report
