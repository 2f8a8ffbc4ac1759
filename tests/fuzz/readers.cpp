#include "fuzz/readers.h"

#include <fmt/format.h>

#include "batch/plan.h"
#include "image/photo.h"
#include "outline/checked_xml.h"
#include "outline/glif.h"
#include "outline/plist.h"
#include "refset/refset.h"

namespace debossier::fuzz {

namespace {

/// Smaller than the program's own limit, so that the time goes into many files and not into pixels.
constexpr std::uint64_t kMostPixels = 4'000'000;

Result<std::monostate> ReadPhoto(const std::string& bytes) {
  const auto photo = image::PhotoFromBytes(bytes, "photo", {.max_pixels = kMostPixels});
  if (!photo) return PassOn(photo);
  // Every pixel of what is called a photo can be read.
  DEBOSSIER_ASSERT(photo->bgr.type() == CV_8UC3 && cv::sum(photo->bgr)[0] >= 0);
  return std::monostate{};
}

Result<std::monostate> ReadSet(const std::string& bytes) {
  const auto set = refset::ParseSet(bytes, "set.json");
  if (!set) return PassOn(set);
  return std::monostate{};
}

Result<std::monostate> ReadGlyph(const std::string& bytes) {
  const auto document =
      outline::ParseXml(bytes, "a.glif", outline::DocumentType::kRefused, outline::XmlLimits{});
  if (!document) return PassOn(document);
  const outline::UfoLimits limits;
  const auto glyph = outline::ReadGlif(**document, "a.glif", limits.max_points_per_glyph);
  if (!glyph) return PassOn(glyph);
  // What was read can be written, and is read again.
  const auto again = outline::ParseXml(outline::GlifText(*glyph), "a.glif",
                                       outline::DocumentType::kRefused, outline::XmlLimits{});
  DEBOSSIER_ASSERT(again && outline::ReadGlif(**again, "a.glif", limits.max_points_per_glyph * 2));
  return std::monostate{};
}

Result<std::monostate> ReadPropertyList(const std::string& bytes) {
  const auto document = outline::ParseXml(bytes, "a.plist", outline::DocumentType::kPropertyList,
                                          outline::XmlLimits{});
  if (!document) return PassOn(document);
  const auto entries = outline::Entries(outline::PlistRoot(**document, "dict"));
  if (!entries) return std::monostate{};
  for (const auto& [key, value] : *entries) {
    const auto number = outline::NumberOf(value);
    DEBOSSIER_ASSERT(!number || (*number >= -1e6 && *number <= 1e6));
    DEBOSSIER_ASSERT(outline::ValueOf(*entries, key) == value);
    static_cast<void>(outline::StringOf(value));
  }
  return std::monostate{};
}

Result<std::monostate> ReadManifest(const std::string& bytes) {
  batch::PlanOptions options;
  options.set = "a";
  options.photos_are_there = false;
  const auto plan = batch::PlanFromManifest(bytes, "manifest.csv", "/nowhere", options);
  if (!plan) return PassOn(plan);
  for (const batch::Entry& entry : plan->entries) {
    DEBOSSIER_ASSERT(!batch::OutputName(entry).empty());
  }
  return std::monostate{};
}

}  // namespace

const std::vector<Reader>& Readers() {
  static const std::vector<Reader> readers = {{"image", ReadPhoto},
                                              {"set", ReadSet},
                                              {"glif", ReadGlyph},
                                              {"plist", ReadPropertyList},
                                              {"manifest", ReadManifest}};
  return readers;
}

std::string FaultOf(const Reader& reader, const std::string& bytes) {
  const auto result = reader.read(bytes);
  if (result) return {};
  const Error& error = result.error();
  if (error.code == ErrorCode::kInternal) return fmt::format("failed inside: {}", error.ToString());
  // A manifest's mistakes stand in the message, each with its own mend.
  const bool has_mend = !error.hint.empty() || error.code == ErrorCode::kManifestUnsound;
  if (error.message.empty() || !has_mend) return fmt::format("names no mend: {}", error.ToString());
  if (error.where.empty()) return fmt::format("names no file: {}", error.ToString());
  return {};
}

}  // namespace debossier::fuzz
