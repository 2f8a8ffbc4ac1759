// Real stamped lettering for tests: ../shared/real beside the project, where it is present.
//
// Bindings of 1850 to 1930 from public GITenberg repositories; the folder's README says which
// pictures show one die. Nothing of it belongs to the project.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "compare/compare_photo.h"
#include "image/photo.h"
#include "refset/create.h"

namespace debossier::test {

inline std::filesystem::path RealFolder() {
  return std::filesystem::path(DEBOSSIER_SHARED) / "real";
}
inline bool HasRealStamps() { return std::filesystem::exists(RealFolder() / "crops"); }

inline image::Photo LoadReal(const std::string& name) {
  auto photo = image::LoadPhoto(RealFolder() / name);
  if (!photo) throw std::runtime_error(photo.error().ToString());
  return std::move(*photo);
}

/// A set from crops whose x and y scale cannot be trusted (scans squeezed to a page format).
inline refset::RefSet SetFrom(const std::vector<std::string>& crops,
                              const std::vector<std::string>& lines) {
  std::vector<image::Photo> photos;
  for (const auto& name : crops) photos.push_back(LoadReal("crops/" + name + ".png"));
  reading::TextSpec text;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    text.lines.push_back({i == 0 ? "wordmark" : "line" + std::to_string(i + 1), lines[i]});
  }
  refset::CreateOptions options;
  options.id = "real";
  options.allow_doubtful = true;  // ornamental lettering: bars of H that stand high, tall initials
  options.consensus.place.free_aspect = true;
  auto created = refset::CreateFromPhotos(photos, text, options);
  if (!created) throw std::runtime_error(created.error().ToString());
  return std::move(created->set);
}

/// The largest departure in % of cap height, over gaps, heights, widths and places.
inline double LargestDeparture(const compare::Comparison& c) {
  double largest = 0;
  for (const auto& f : c.features) {
    if (f.measure == "letterform") continue;
    largest = std::max(largest, 100 * std::abs(f.value - f.expected));
  }
  return largest;
}

/// Every element was measured or, where its edges do not say where exactly, seen in its place.
inline bool AllSeen(const compare::Comparison& c) {
  for (const auto& e : c.measured.elements) {
    if (!e.found && !e.in_place) return false;
  }
  return true;
}

}  // namespace debossier::test
