// The order matters: header, limits, wholeness, and only then pixels.
#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "base/files.h"
#include "image/decode.h"
#include "image/photo.h"
#include "image/picture_file.h"

namespace debossier::image {

namespace {

Result<std::monostate> CheckLimits(const Header& header, const LoadOptions& options,
                                   const std::string& where) {
  const auto pixels =
      static_cast<std::uint64_t>(header.width) * static_cast<std::uint64_t>(header.height);
  if (std::max(header.width, header.height) > options.max_side_px || pixels > options.max_pixels) {
    return Refuse(ErrorCode::kOverLimit, "image", where,
                  fmt::format("is {} by {} px; {} px a side and {} pixels in all are accepted",
                              header.width, header.height, options.max_side_px, options.max_pixels),
                  "scale the photo down or crop it to the stamp");
  }
  if (std::min(header.width, header.height) < options.min_side_px) {
    return Refuse(ErrorCode::kPhotoTooSmall, "image", where,
                  fmt::format("is {} by {} px, less than {} px a side", header.width, header.height,
                              options.min_side_px),
                  "photograph the stamp from closer, or give the photo in its original size");
  }
  return std::monostate{};
}

Result<std::monostate> CheckWhole(const std::string& bytes, Format format,
                                  const std::string& where) {
  switch (format) {
    case Format::kJpeg:
      return CheckJpegWhole(bytes, where);
    case Format::kPng:
      return CheckPngWhole(bytes, where);
    case Format::kTiff:
      return CheckTiffWhole(bytes, where);
    case Format::kWebp:
      return CheckWebpWhole(bytes, where);
    case Format::kHeic:
      return std::monostate{};  // libheif says so while it decodes
  }
  return Refuse(ErrorCode::kInternal, "image", where, "has no known format", "report this");
}

}  // namespace

Result<Photo> LoadPhoto(const std::filesystem::path& path, const LoadOptions& options) {
  auto bytes = LoadFile(path, options.max_file_bytes, "image");
  if (!bytes) return PassOn(bytes);
  auto photo = PhotoFromBytes(std::move(*bytes), path.string(), options);
  if (photo) photo->file = path.filename().string();
  return photo;
}

Result<Photo> PhotoFromBytes(std::string bytes, const std::string& where,
                             const LoadOptions& options) {
  auto header = ReadHeader(bytes, where);
  if (!header) return PassOn(header);
  if (const auto limits = CheckLimits(*header, options, where); !limits) return PassOn(limits);
  if (const auto whole = CheckWhole(bytes, header->format, where); !whole) return PassOn(whole);
  auto stored = Decode(bytes, *header, where);
  if (!stored) return PassOn(stored);
  Photo photo;
  photo.file = where;
  photo.sha256 = Sha256Hex(bytes);
  photo.bgr = Turned(std::move(*stored), header->exif_orientation);
  photo.header = *header;
  photo.bytes = std::move(bytes);
  return photo;
}

}  // namespace debossier::image
