#include "batch/seen.h"

#include <nlohmann/json.hpp>

#include "base/files.h"

namespace debossier::batch {

namespace {

constexpr const char* kFormatName = "debossier-batch-seen";
constexpr int kFormatVersion = 1;
constexpr std::uint64_t kLargestFile = 64u << 20;

std::string Identity(const Entry& entry, const Record& record) {
  if (record.sha256.empty()) return "";
  return Sha256Hex(record.sha256 + "\n" + entry.set + "\n" + entry.crop);
}

}  // namespace

std::optional<Seen> Seen::Load(const std::filesystem::path& file) {
  const auto text = LoadFile(file, kLargestFile, "batch");
  if (!text) return {};
  const auto json = nlohmann::json::parse(*text, nullptr, false);
  // Compared as values: a member of another type is another value.
  if (!json.is_object() || !json.contains("photos") || !json["photos"].is_array() ||
      json.value("format", nlohmann::json()) != kFormatName ||
      json.value("version", nlohmann::json()) != kFormatVersion) {
    return {};
  }
  Seen seen;
  for (const auto& photo : json["photos"]) {
    if (photo.is_string()) seen.photos_.insert(photo.get<std::string>());
  }
  return seen;
}

void Seen::Add(const Entry& entry, const Record& record) {
  const std::string identity = Identity(entry, record);
  if (!identity.empty()) photos_.insert(identity);
}

bool Seen::Contains(const Entry& entry, const Record& record) const {
  const std::string identity = Identity(entry, record);
  return identity.empty() || photos_.contains(identity);
}

std::string Seen::Json() const {
  const nlohmann::ordered_json json = {
      {"format", kFormatName}, {"version", kFormatVersion}, {"photos", photos_}};
  return json.dump(1) + "\n";
}

}  // namespace debossier::batch
