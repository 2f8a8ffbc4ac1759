// A photograph in memory: colour pixels, upright by EXIF, with its file bytes and hash.
//
// The only image decoder of the project. Limits are checked on the header before any decoding.
// Frame: pixels, y down, pixel (0, 0) has its centre at (0, 0); after the EXIF turn.
// Not for: writing pictures (report embeds `bytes`; the simulator writes its own).
#pragma once

#include <cstdint>
#include <filesystem>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace debossier::image {

enum class Format { kJpeg, kPng, kTiff, kWebp, kHeic };

struct LoadOptions {
  std::uint64_t max_file_bytes = 256ull << 20;
  std::uint64_t max_pixels = 100'000'000;  ///< Width times height; 50-megapixel phones fit twice.
  int max_side_px = 30'000;
  int min_side_px = 32;  ///< Smaller pictures cannot hold measurable lettering.
};

/// What a header says, before decoding.
struct Header {
  Format format = Format::kJpeg;
  int width = 0;  ///< As stored, before the EXIF turn; HEIC: as shown.
  int height = 0;
  int exif_orientation = 1;  ///< 1 to 8 (TIFF/EXIF tag 274); HEIC: 1, its own turn is applied.
  std::optional<double> focal_length_35mm;  ///< EXIF tag 41989, where present and positive.
};

struct Photo {
  std::string file;    ///< The path's last component, as given.
  std::string sha256;  ///< Of the file's bytes.
  std::string bytes;   ///< The file itself (for embedding in the report).
  Header header;
  /// CV_8UC3, upright, alpha laid over mid grey. Colours are those of the file: profiles are not
  /// applied, so that a wide-gamut photo (Display P3) comes out a little duller than it was. Foil
  /// and ground are told apart by colours learned from the photo itself, which this leaves alone.
  cv::Mat bgr;
};

/// Reads a header from a file's bytes. Refuses with kNotAnImage (empty, unknown, damaged). The
/// file need not be whole, and no limit is checked.
Result<Header> ReadHeader(const std::string& bytes, const std::string& where);

/// The frame header of a JPEG file (ITU-T T.81, B.2.2).
struct JpegFrame {
  int marker = 0;  ///< 0xc0 to 0xcf: how it is coded.
  int bits = 0;    ///< A sample.
  std::uint32_t height = 0;
  std::uint32_t width = 0;
  int components = 0;
};
/// The first one in `bytes`; nothing where the file breaks off before it or is no JPEG file.
std::optional<JpegFrame> FindJpegFrame(std::string_view bytes);

/// Loads a photo. Refuses with kFileMissing, kNotAnImage (empty, not an image, an unsupported kind,
/// truncated or damaged, HEIC where libheif is not installed), kOverLimit, or kPhotoTooSmall (a
/// side below `min_side_px`).
Result<Photo> LoadPhoto(const std::filesystem::path& path, const LoadOptions& options = {});

/// The same from a file's bytes; `where` names the photo. `max_file_bytes` is not checked.
Result<Photo> PhotoFromBytes(std::string bytes, const std::string& where,
                             const LoadOptions& options = {});

}  // namespace debossier::image
