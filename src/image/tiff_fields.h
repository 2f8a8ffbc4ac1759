// The fields of one image file directory of a TIFF stream.
//
// TIFF 6.0 (Adobe, 1992), section 2. EXIF data is such a stream inside another format.
// Frame: all offsets count from the first byte of the stream.
// Not for: BigTIFF, and values other than unsigned integers.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "image/bytes.h"

namespace debossier::image {

class TiffFields {
 public:
  /// Reads the first directory of `stream`, which must outlive the result. Nothing where the
  /// stream is not TIFF or its directory does not lie in it wholly.
  static std::optional<TiffFields> Read(std::string_view stream);

  /// The directory that the field `tag` points at (tag 34665 points at the EXIF directory).
  std::optional<TiffFields> Child(std::uint16_t tag) const;

  bool Has(std::uint16_t tag) const { return Find(tag) != nullptr; }

  /// The first value of a field of type BYTE, SHORT or LONG.
  std::optional<std::uint32_t> Value(std::uint16_t tag) const;

  /// All values of such a field; nothing where they are absent, more than `max` or cut off.
  std::optional<std::vector<std::uint32_t>> Values(std::uint16_t tag, std::uint32_t max) const;

  /// Where value 0 of the field stands in the stream, and how wide each value is.
  struct Place {
    std::uint64_t offset = 0;
    int size = 0;
  };
  std::optional<Place> Where(std::uint16_t tag) const;

  Endian ByteOrder() const { return endian_; }

 private:
  struct Field {
    std::uint16_t tag = 0;
    std::uint16_t type = 0;
    std::uint32_t count = 0;
    std::uint64_t entry_offset = 0;  ///< Of the 12-byte entry.
  };

  static std::optional<TiffFields> ReadDirectory(std::string_view stream, Endian endian,
                                                 std::uint32_t offset);
  const Field* Find(std::uint16_t tag) const;

  std::string_view stream_;
  Endian endian_ = Endian::kLittle;
  std::vector<Field> fields_;
};

}  // namespace debossier::image
