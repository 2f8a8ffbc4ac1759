// Picture files for the tests of the image layer, built byte by byte from the published formats.
#pragma once

#include <array>
#include <cstdint>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>
#include <string>
#include <string_view>
#include <vector>

namespace debossier::image::testing {

/// `value` in `size` bytes.
inline std::string Uint(std::uint32_t value, int size, bool big) {
  std::string bytes;
  for (int i = 0; i < size; ++i) {
    const int shift = 8 * (big ? size - 1 - i : i);
    bytes += static_cast<char>(value >> shift & 0xffu);
  }
  return bytes;
}

/// One TIFF field of type SHORT (3) or LONG (4) with the value or offset in its entry.
struct Field {
  std::uint32_t tag;
  std::uint32_t type;
  std::uint32_t count;
  std::uint32_t value;
};

inline std::string Directory(const std::vector<Field>& fields, bool big) {
  std::string bytes = Uint(static_cast<std::uint32_t>(fields.size()), 2, big);
  for (const Field& field : fields) {
    bytes += Uint(field.tag, 2, big) + Uint(field.type, 2, big) + Uint(field.count, 4, big);
    const bool is_short = field.type == 3 && field.count == 1;
    bytes += is_short ? Uint(field.value, 2, big) + Uint(0, 2, big) : Uint(field.value, 4, big);
  }
  return bytes + Uint(0, 4, big);
}

inline std::string TiffStart(bool big) {
  return (big ? "MM" : "II") + Uint(42, 2, big) + Uint(8, 4, big);
}

/// EXIF data: orientation in the first directory, focal length (35 mm) in the EXIF directory.
inline std::string Exif(int orientation, int focal_length, bool big) {
  const std::uint32_t exif_at = 8 + 2 + 2 * 12 + 4;
  return TiffStart(big) +
         Directory({{274, 3, 1, static_cast<std::uint32_t>(orientation)}, {34665, 4, 1, exif_at}},
                   big) +
         Directory({{41989, 3, 1, static_cast<std::uint32_t>(focal_length)}}, big);
}

inline std::string Encoded(const char* extension, const cv::Mat& picture,
                           const std::vector<int>& parameters = {}) {
  std::vector<std::uint8_t> bytes;
  if (!cv::imencode(extension, picture, bytes, parameters)) return {};
  return std::string(bytes.begin(), bytes.end());
}

/// Puts an APP1 segment right behind SOI.
inline std::string JpegWithExif(const std::string& jpeg, const std::string& exif) {
  const std::string data = std::string("Exif\0\0", 6) + exif;
  const auto length = static_cast<std::uint32_t>(data.size() + 2);
  return jpeg.substr(0, 2) + "\xff\xe1" + Uint(length, 2, true) + data + jpeg.substr(2);
}

/// CRC-32 as in PNG annex D, bit by bit.
inline std::uint32_t Crc32(std::string_view bytes) {
  std::uint32_t crc = 0xffffffffu;
  for (const char c : bytes) {
    crc ^= static_cast<std::uint8_t>(c);
    for (int i = 0; i < 8; ++i) crc = crc >> 1 ^ (crc & 1u ? 0xedb88320u : 0u);
  }
  return ~crc;
}

inline std::string PngChunk(const std::string& type, const std::string& data) {
  return Uint(static_cast<std::uint32_t>(data.size()), 4, true) + type + data +
         Uint(Crc32(type + data), 4, true);
}

/// Signature and IHDR: 8-bit colour, not interlaced.
inline std::string PngStart(std::uint32_t width, std::uint32_t height) {
  return "\x89PNG\r\n\x1a\n" + PngChunk("IHDR", Uint(width, 4, true) + Uint(height, 4, true) +
                                                    std::string("\x08\x02\0\0\0", 5));
}

/// Puts an eXIf chunk right behind IHDR.
inline std::string PngWithExif(const std::string& png, const std::string& exif) {
  return png.substr(0, 33) + PngChunk("eXIf", exif) + png.substr(33);
}

inline std::string WebpChunk(const std::string& type, const std::string& data) {
  return type + Uint(static_cast<std::uint32_t>(data.size()), 4, false) + data +
         std::string(data.size() % 2, '\0');
}

inline std::string WebpFile(const std::string& chunks) {
  return "RIFF" + Uint(static_cast<std::uint32_t>(chunks.size() + 4), 4, false) + "WEBP" + chunks;
}

inline std::string Vp8x(std::uint8_t flags, std::uint32_t width, std::uint32_t height) {
  return WebpChunk("VP8X",
                   Uint(flags, 4, false) + Uint(width - 1, 3, false) + Uint(height - 1, 3, false));
}

/// Turns a simple WebP file into an extended one with an EXIF chunk at its end.
inline std::string WebpWithExif(const std::string& webp, const cv::Size& size,
                                const std::string& exif) {
  return WebpFile(
      Vp8x(0x08, static_cast<std::uint32_t>(size.width), static_cast<std::uint32_t>(size.height)) +
      webp.substr(12) + WebpChunk("EXIF", exif));
}

struct TiffOptions {
  bool big = false;
  int orientation = 1;
  int extra_samples = -1;  ///< Value of ExtraSamples where there is a fourth sample, -1: no field.
  int photometric = 2;     ///< 0: white is zero, 1: black is zero, 2: red green blue, 5: inks.
};

/// Uncompressed TIFF of `picture` (8 or 16 bit; 1, 3 or 4 channels, B G R A or C M Y K in memory);
/// directory first, then one strip.
inline std::string Tiff(const cv::Mat& picture, const TiffOptions& options) {
  const auto channels = static_cast<std::uint32_t>(picture.channels());
  const auto size = static_cast<std::uint32_t>(picture.elemSize1());
  const std::uint32_t fields = options.extra_samples >= 0 ? 12 : 11;
  const std::uint32_t bits_at = 8 + 2 + fields * 12 + 4;
  const std::uint32_t data_at = bits_at + 8;
  std::string data;
  for (int y = 0; y < picture.rows; ++y) {
    for (int x = 0; x < picture.cols; ++x) {
      const std::uint8_t* pixel = picture.ptr(y, x);
      for (std::uint32_t c = 0; c < channels; ++c) {
        const std::uint32_t from = options.photometric == 2 && c < 3 ? 2 - c : c;
        std::uint32_t value = pixel[from * size];
        if (size == 2) value |= static_cast<std::uint32_t>(pixel[from * 2 + 1]) << 8;
        data += Uint(value, static_cast<int>(size), options.big);
      }
    }
  }
  const auto rows = static_cast<std::uint32_t>(picture.rows);
  const auto bits = size * 8;
  std::vector<Field> directory = {
      {256, 4, 1, static_cast<std::uint32_t>(picture.cols)},
      {257, 4, 1, rows},
      channels == 1 ? Field{258, 3, 1, bits} : Field{258, 3, channels, bits_at},
      {259, 3, 1, 1},
      {262, 3, 1, static_cast<std::uint32_t>(options.photometric)},
      {273, 4, 1, data_at},
      {274, 3, 1, static_cast<std::uint32_t>(options.orientation)},
      {277, 3, 1, channels},
      {278, 4, 1, rows},
      {279, 4, 1, static_cast<std::uint32_t>(data.size())},
      {284, 3, 1, 1}};
  if (options.extra_samples >= 0) {
    directory.push_back({338, 3, 1, static_cast<std::uint32_t>(options.extra_samples)});
  }
  std::string file = TiffStart(options.big) + Directory(directory, options.big);
  for (int i = 0; i < 4; ++i) file += Uint(bits, 2, options.big);
  return file + data;
}

/// A JPEG that ends behind its frame header (SOF0, three components).
inline std::string JpegStart(std::uint32_t width, std::uint32_t height) {
  return "\xff\xd8\xff\xc0" + Uint(17, 2, true) + "\x08" + Uint(height, 2, true) +
         Uint(width, 2, true) + std::string("\x03\x01\x22\0\x02\x11\x01\x03\x11\x01", 10);
}

}  // namespace debossier::image::testing
