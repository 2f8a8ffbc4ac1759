// What a batch compares: one entry a photo, from a folder or from a manifest.
//
// A manifest is a CSV table with a header row and the columns photo, item, set, crop and notes in
// any order; only `photo` must be there. Its mistakes are collected and told by line before any
// photo is opened.
// Photos lie in one folder and its subfolders; neither a manifest nor a link leads out of it.
// Not for: opening photos or sets.
#pragma once

#include <filesystem>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "base/result.h"

namespace debossier::batch {

/// One photo to be compared with one set.
struct Entry {
  std::filesystem::path path;  ///< To open.
  std::string name;            ///< Path inside the folder of photos, as bytes.
  std::string item;            ///< Photos of one item carry the same; may be empty.
  std::string set;             ///< Id of the reference set.
  std::string crop;            ///< "x,y,width,height" or empty.
  std::string notes;
  int line = 0;             ///< Of the manifest; 0 from a folder.
  std::string output_name;  ///< Of the files about it, without extension.
};

struct Plan {
  std::vector<Entry> entries;  ///< A folder's by name, a manifest's in its order.
  std::string folder;          ///< Of the photos.
  int links_left_out = 0;      ///< Links that lead out of the folder, or nowhere.
  int others_left_out = 0;     ///< Files that are not named like photos.
};

struct PlanOptions {
  std::string set;                ///< For all entries that name none.
  std::filesystem::path photos;   ///< Folder of a manifest's photos; empty: the manifest's own.
  std::filesystem::path exclude;  ///< Folder that is not searched: the output.
  bool photos_are_there = true;   ///< A manifest's photo that is not there is a mistake.
};

/// Reads `input`, a folder or a manifest. Refuses with kUsage, kFileMissing, kOverLimit or
/// kManifestUnsound.
Result<Plan> MakePlan(const std::filesystem::path& input, const PlanOptions& options);

/// The two kinds of input.
Result<Plan> PlanFromFolder(const std::filesystem::path& folder, const PlanOptions& options);
Result<Plan> PlanFromManifest(const std::string& text, const std::string& where,
                              const std::filesystem::path& photos, const PlanOptions& options);

/// "x,y,width,height" in photo pixels.
Result<cv::Rect> ParseCrop(const std::string& text);

/// A name for the files about an entry: letters and figures of the photo's name that are safe
/// anywhere, and 16 figures of a hash over the whole name, the set and the crop. It does not depend
/// on the other entries.
std::string OutputName(const Entry& entry);

}  // namespace debossier::batch
