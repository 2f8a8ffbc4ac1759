#include "report/verified.h"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "fit/place_lettering.h"
#include "refset/remake.h"
#include "report/view.h"

namespace debossier::report {

namespace {

/// Where the set's lettering lies in the item's photo: as kept, or found again for sets of before
/// it was kept.
std::optional<fit::Placement> PlaceOf(const refset::Item& item, const refset::RefSet& set,
                                      const image::Photo& photo) {
  if (item.placement) return item.placement;
  fit::PlaceOptions options;
  options.free_aspect = set.free_aspect;
  const auto placed = fit::PlaceLettering(photo.bgr, set.lettering, options);
  if (!placed) return std::nullopt;
  return placed->photo_from_stamp;
}

/// Sharpest first: blur in cap heights.
std::vector<const refset::Item*> ByClarity(const refset::RefSet& set) {
  std::vector<const refset::Item*> items;
  for (const auto& item : set.items) items.push_back(&item);
  const auto blur = [](const refset::Item* item) {
    return item->cap_height_px > 0 ? item->blur_px / item->cap_height_px : 1e9;
  };
  std::stable_sort(items.begin(), items.end(),
                   [&](const auto* a, const auto* b) { return blur(a) < blur(b); });
  return items;
}

VerifiedPicture Load(const refset::Library& library, const refset::RefSet& set,
                     const std::string& not_item) {
  VerifiedPicture out;
  out.why_not = set.items.empty() ? "the set was made from a font and has no verified items"
                                  : "the set keeps no photos of its verified items";
  for (const refset::Item* item : ByClarity(set)) {
    if (item->id == not_item || item->photo_kept.empty()) continue;
    const auto photo = refset::PhotoOfItem(library, set, *item, {});
    if (!photo) {
      out.why_not =
          fmt::format("the kept photo of {} cannot be read: {}", item->id, photo.error().message);
      continue;
    }
    const auto place = PlaceOf(*item, set, *photo);
    if (!place) continue;
    const Box box = Grown(outline::Bounds(set.lettering), kGroundAbout);
    Straightened picture = Straighten(photo->bgr, *place, box, kMostPicturePx);
    if (picture.bgr.empty()) continue;
    return {item->id, item->photo_file, item->photo_sha256, std::move(picture), ""};
  }
  return out;
}

}  // namespace

std::shared_ptr<const VerifiedPicture> VerifiedPictures::Clearest(const refset::RefSet& set,
                                                                  const std::string& not_item) {
  const std::string key = fmt::format("{} {} {}", set.id, set.revision, not_item);
  const std::lock_guard lock(mutex_);
  auto& known = known_[key];
  if (!known) {
    known = std::make_shared<const VerifiedPicture>(Load(library_, set, not_item));
  }
  return known;
}

}  // namespace debossier::report
