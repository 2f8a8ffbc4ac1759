#include "batch/dossiers.h"

#include <map>

#include "base/files.h"

namespace debossier::batch {

std::vector<PlannedItem> ItemsOf(const Plan& plan) {
  std::vector<PlannedItem> items;
  std::map<std::string, std::size_t> by_name;
  for (const Entry& entry : plan.entries) {
    if (entry.item.empty()) continue;
    const auto [at, is_new] = by_name.emplace(entry.item, items.size());
    if (is_new) items.push_back({entry.item, {}});
    items[at->second].entries.push_back(&entry);
  }
  return items;
}

report::DossierPhoto ReadForDossier(const Entry& entry, const refset::RefSet& set) {
  report::DossierPhoto photo;
  photo.name = entry.name;
  photo.set = &set;
  photo.notes = entry.notes;
  if (!entry.crop.empty()) {
    const auto crop = ParseCrop(entry.crop);
    if (crop) {
      photo.crop = *crop;
    } else {
      photo.unreadable = crop.error();
    }
  }
  auto bytes = LoadFile(entry.path, image::LoadOptions{}.max_file_bytes, "image");
  if (bytes) {
    photo.bytes = *std::move(bytes);
  } else {
    photo.unreadable = bytes.error();
  }
  return photo;
}

}  // namespace debossier::batch
