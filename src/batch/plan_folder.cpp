// Finds the photos of a folder and its subfolders.
#include <algorithm>
#include <cctype>
#include <system_error>

#include "batch/plan.h"

namespace debossier::batch {

namespace fs = std::filesystem;

namespace {

constexpr int kDeepest = 32;
constexpr std::size_t kMostPhotos = 50'000;

// Kinds that the image layer does not read count too: leaving them out would look like success.
bool IsNamedLikePhoto(const fs::path& path) {
  std::string kind = path.extension().string();
  std::transform(kind.begin(), kind.end(), kind.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  for (const char* known : {".jpg", ".jpeg", ".jpe", ".png", ".tif", ".tiff", ".webp", ".heic",
                            ".heif", ".avif", ".bmp", ".gif"}) {
    if (kind == known) return true;
  }
  return false;
}

// True where `path` lies in `folder`; both canonical.
bool LiesIn(const fs::path& path, const fs::path& folder) {
  return std::mismatch(folder.begin(), folder.end(), path.begin(), path.end()).first ==
         folder.end();
}

// A link to a photo counts where its target lies in the folder. Folders behind links are not
// entered: their photos are found at their own place, or lie elsewhere.
bool IsPhotoInside(const fs::directory_entry& entry, const fs::path& folder, Plan& plan) {
  std::error_code error;
  if (entry.is_symlink(error)) {
    const fs::path target = fs::canonical(entry.path(), error);
    if (error || !LiesIn(target, folder)) {
      ++plan.links_left_out;
      return false;
    }
    if (fs::is_directory(target, error)) return false;
  }
  if (entry.is_directory(error)) return false;
  if (!entry.is_regular_file(error) || !IsNamedLikePhoto(entry.path())) {
    ++plan.others_left_out;
    return false;
  }
  return true;
}

}  // namespace

Result<Plan> PlanFromFolder(const fs::path& folder, const PlanOptions& options) {
  const auto unreadable = [&](const fs::path& path, const std::error_code& error) {
    return Refuse(ErrorCode::kFileMissing, "batch", path.string(),
                  "cannot be listed: " + error.message(), "check the path and the permissions");
  };
  if (options.set.empty()) {
    return Refuse(ErrorCode::kUsage, "batch", folder.string(), "no reference set is named",
                  "name the set of all photos with --set, or give a manifest with a set column");
  }
  Plan plan;
  plan.folder = folder.string();
  std::error_code error;
  const fs::path real = fs::canonical(folder, error);
  if (error) return unreadable(folder, error);
  const fs::path exclude = fs::weakly_canonical(options.exclude, error);
  for (fs::recursive_directory_iterator it(real, error), end; it != end; it.increment(error)) {
    if (error) break;
    const std::string base = it->path().filename().string();
    std::error_code ignored;
    const bool is_folder = it->is_directory(ignored) && !it->is_symlink(ignored);
    if (base.starts_with('.') || (is_folder && it->path() == exclude)) {
      if (is_folder) it.disable_recursion_pending();
      continue;
    }
    if (it.depth() >= kDeepest) it.disable_recursion_pending();
    if (!IsPhotoInside(*it, real, plan)) continue;
    Entry entry;
    entry.path = it->path();
    entry.name = it->path().lexically_relative(real).string();
    entry.set = options.set;
    entry.output_name = OutputName(entry);
    plan.entries.push_back(std::move(entry));
    if (plan.entries.size() > kMostPhotos) {
      return Refuse(ErrorCode::kOverLimit, "batch", folder.string(),
                    "holds more than the 50,000 photos accepted", "give its subfolders one by one");
    }
  }
  if (error) return unreadable(folder, error);
  if (plan.entries.empty()) {
    return Refuse(ErrorCode::kUsage, "batch", folder.string(), "holds no photos",
                  "name a folder with JPEG, PNG, TIFF or WebP files");
  }
  std::sort(plan.entries.begin(), plan.entries.end(),
            [](const Entry& a, const Entry& b) { return a.name < b.name; });
  return plan;
}

}  // namespace debossier::batch
