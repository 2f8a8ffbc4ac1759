#include "batch/plan.h"

#include <array>
#include <charconv>
#include <system_error>

#include "base/files.h"

namespace debossier::batch {

namespace fs = std::filesystem;

namespace {

constexpr std::uint64_t kLargestManifest = 64u << 20;
constexpr std::size_t kLongestStem = 40;

bool IsPlain(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-';
}

}  // namespace

Result<cv::Rect> ParseCrop(const std::string& text) {
  std::array<int, 4> values{};
  const char* at = text.data();
  const char* end = text.data() + text.size();
  for (std::size_t i = 0; i < values.size(); ++i) {
    const auto [next, error] = std::from_chars(at, end, values[i]);
    const bool last = i + 1 == values.size();
    if (error != std::errc() || values[i] < 0 || values[i] > 1'000'000 ||
        (last ? next != end : next == end || *next != ',')) {
      return Refuse(ErrorCode::kUsage, "batch", text, "is not a crop",
                    "give x,y,width,height in photo pixels, for example 120,80,900,300");
    }
    at = next + 1;
  }
  if (values[2] < 1 || values[3] < 1) {
    return Refuse(ErrorCode::kUsage, "batch", text, "is a crop without width or height",
                  "give x,y,width,height in photo pixels, for example 120,80,900,300");
  }
  return cv::Rect(values[0], values[1], values[2], values[3]);
}

std::string OutputName(const Entry& entry) {
  std::string stem;
  for (const char c : fs::path(entry.name).stem().string()) {
    if (stem.size() >= kLongestStem) break;
    if (IsPlain(c)) {
      stem += c;
    } else if (!stem.empty() && stem.back() != '_') {
      stem += '_';
    }
  }
  while (!stem.empty() && (stem.back() == '_' || stem.front() == '-')) {
    stem.erase(stem.back() == '_' ? stem.size() - 1 : 0, 1);
  }
  const std::string whole = entry.name + '\0' + entry.set + '\0' + entry.crop;
  return (stem.empty() ? "photo" : stem) + "-" + Sha256Hex(whole).substr(0, 16);
}

Result<Plan> MakePlan(const fs::path& input, const PlanOptions& options) {
  std::error_code error;
  if (fs::is_directory(input, error)) {
    if (!options.photos.empty()) {
      return Refuse(ErrorCode::kUsage, "batch", options.photos.string(),
                    "is a folder of photos beside a folder as input",
                    "give --photos only with a manifest");
    }
    return PlanFromFolder(input, options);
  }
  auto text = LoadFile(input, kLargestManifest, "batch");
  if (!text) return PassOn(text);
  fs::path photos = options.photos;
  if (photos.empty()) photos = input.has_parent_path() ? input.parent_path() : ".";
  if (!fs::is_directory(photos, error)) {
    return Refuse(ErrorCode::kFileMissing, "batch", photos.string(), "is not a folder",
                  "name the folder of the manifest's photos with --photos");
  }
  return PlanFromManifest(*text, input.string(), photos, options);
}

}  // namespace debossier::batch
