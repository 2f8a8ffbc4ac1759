// Tells the formats apart by their first bytes, never by the file's name.
#include <algorithm>
#include <array>
#include <limits>
#include <utility>

#include "image/picture_file.h"
#include "image/tiff_fields.h"

namespace debossier::image {

namespace {

using namespace std::string_view_literals;

constexpr std::uint16_t kOrientationTag = 274;        // EXIF 2.32, table 4
constexpr std::uint16_t kExifDirectoryTag = 34665;    // EXIF 2.32, table 3
constexpr std::uint16_t kFocalLength35mmTag = 41989;  // EXIF 2.32, table 8

/// ISO base media files begin with a box of type "ftyp", then the brand (ISO/IEC 14496-12, 4.3).
std::string_view Brand(std::string_view bytes) {
  return bytes.size() >= 12 && bytes.substr(4, 4) == "ftyp"sv ? bytes.substr(8, 4) : ""sv;
}

bool IsHeic(std::string_view brand) {
  constexpr std::array kBrands = {"heic"sv, "heix"sv, "hevc"sv, "heim"sv, "mif1"sv, "msf1"sv};
  return std::ranges::find(kBrands, brand) != kBrands.end();
}

/// Kinds that people do send, so that the refusal can name them.
const char* UnreadKind(std::string_view bytes) {
  if (Brand(bytes) == "avif"sv) return "an AVIF picture";
  if (!Brand(bytes).empty()) return "a video";
  constexpr std::array<std::pair<std::string_view, const char*>, 6> kKinds = {{
      {"GIF8"sv, "a GIF picture"},
      {"BM"sv, "a BMP picture"},
      {"%PDF"sv, "a PDF document"},
      {"II+\0"sv, "a BigTIFF picture"},
      {"MM\0+"sv, "a BigTIFF picture"},
      {"\0\0\0\x0cJXL "sv, "a JPEG XL picture"},
  }};
  for (const auto& [start, kind] : kKinds) {
    if (bytes.starts_with(start)) return kind;
  }
  return nullptr;
}

}  // namespace

Result<Header> ReadHeader(const std::string& bytes, const std::string& where) {
  const std::string_view view = bytes;
  if (view.empty()) return Damaged(where, "the file is empty");
  if (view.starts_with("\xff\xd8\xff"sv)) return ReadJpegHeader(view, where);
  if (view.starts_with("\x89PNG\r\n\x1a\n"sv)) return ReadPngHeader(view, where);
  if (view.starts_with("II*\0"sv) || view.starts_with("MM\0*"sv)) {
    return ReadTiffHeader(view, where);
  }
  if (view.starts_with("RIFF"sv) && view.size() >= 12 && view.substr(8, 4) == "WEBP"sv) {
    return ReadWebpHeader(view, where);
  }
  if (IsHeic(Brand(view))) return ReadHeicHeader(view, where);
  if (const char* kind = UnreadKind(view)) {
    return UnsupportedKind(where, std::string("is ") + kind + ", which is not read here");
  }
  return UnsupportedKind(where, "is not a picture, or one of an unknown kind");
}

void ApplyExif(std::string_view exif, Header& header) {
  if (exif.starts_with("Exif\0\0"sv)) exif.remove_prefix(6);
  const auto fields = TiffFields::Read(exif);
  if (!fields) return;
  const std::uint32_t orientation = fields->Value(kOrientationTag).value_or(0);
  if (orientation >= 1 && orientation <= 8) {
    header.exif_orientation = static_cast<int>(orientation);
  }
  const auto directory = fields->Child(kExifDirectoryTag);
  const std::uint32_t focal = directory ? directory->Value(kFocalLength35mmTag).value_or(0) : 0;
  if (focal > 0) header.focal_length_35mm = focal;
}

int SidePx(std::uint32_t side) {
  return static_cast<int>(std::min<std::uint32_t>(side, std::numeric_limits<int>::max()));
}

Unexpected Damaged(const std::string& where, std::string message) {
  return Refuse(ErrorCode::kNotAnImage, "image", where, std::move(message),
                "copy the file from the camera or phone once more, or export it again as JPEG");
}

Unexpected UnsupportedKind(const std::string& where, std::string message) {
  return Refuse(ErrorCode::kNotAnImage, "image", where, std::move(message),
                "export it as JPEG, PNG, TIFF, WebP or HEIC");
}

}  // namespace debossier::image
