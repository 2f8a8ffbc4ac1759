// TIFF: TIFF 6.0 (Adobe, 1992). The first picture of the file counts.
#include <fmt/format.h>

#include "image/picture_file.h"
#include "image/tiff_fields.h"

namespace debossier::image {

namespace {

// Tags, TIFF 6.0 section 8 and 15; DNGVersion from the DNG specification 1.6.
constexpr std::uint16_t kNewSubfileType = 254;
constexpr std::uint16_t kWidth = 256;
constexpr std::uint16_t kHeight = 257;
constexpr std::uint16_t kBitsPerSample = 258;
constexpr std::uint16_t kPhotometric = 262;
constexpr std::uint16_t kStripOffsets = 273;
constexpr std::uint16_t kStripByteCounts = 279;
constexpr std::uint16_t kTileWidth = 322;
constexpr std::uint16_t kTileHeight = 323;
constexpr std::uint16_t kTileOffsets = 324;
constexpr std::uint16_t kTileByteCounts = 325;
constexpr std::uint16_t kSampleFormat = 339;
constexpr std::uint16_t kDngVersion = 50706;

/// Tiles have at least 16 px a side and reach over the picture by less than one tile; a tile
/// beyond this size only serves to claim memory.
constexpr std::uint32_t kMaxTileSidePx = 16'384;

/// Strips or tiles: 100 megapixels in tiles of 16 by 16 px, in up to two planes.
constexpr std::uint32_t kMaxPieces = 1'000'000;

}  // namespace

Result<Header> ReadTiffHeader(std::string_view bytes, const std::string& where) {
  const auto fields = TiffFields::Read(bytes);
  if (!fields) return Damaged(where, "the TIFF file breaks off before or in its directory");
  const std::uint32_t width = fields->Value(kWidth).value_or(0);
  const std::uint32_t height = fields->Value(kHeight).value_or(0);
  if (width == 0 || height == 0) {
    return Damaged(where, "the TIFF directory gives no width or no height");
  }
  // Raw files of cameras are TIFF files whose first picture is a small preview.
  const bool is_reduced = (fields->Value(kNewSubfileType).value_or(0) & 1u) != 0;
  if (fields->Has(kDngVersion) || is_reduced) {
    return UnsupportedKind(where, "is a raw camera file, or begins with a preview");
  }
  constexpr std::uint32_t kInks = 5, kFloat = 3;
  if (fields->Value(kPhotometric) == kInks && fields->Value(kBitsPerSample) != 8u) {
    return UnsupportedKind(where, "is a TIFF picture of inks (CMYK) with other than 8 bits an ink");
  }
  if (fields->Value(kSampleFormat) == kFloat) {
    return UnsupportedKind(where, "is a TIFF picture of floating-point numbers");
  }
  Header header;
  header.format = Format::kTiff;
  header.width = SidePx(width);
  header.height = SidePx(height);
  ApplyExif(bytes, header);
  return header;
}

Result<std::monostate> CheckTiffWhole(std::string_view bytes, const std::string& where) {
  const auto fields = TiffFields::Read(bytes);
  if (!fields) return Damaged(where, "the TIFF file breaks off before or in its directory");
  const bool is_tiled = fields->Has(kTileOffsets);
  if (is_tiled && (fields->Value(kTileWidth).value_or(0) > kMaxTileSidePx ||
                   fields->Value(kTileHeight).value_or(0) > kMaxTileSidePx)) {
    return Damaged(where, "the TIFF directory gives tiles of an impossible size");
  }
  const auto offsets = fields->Values(is_tiled ? kTileOffsets : kStripOffsets, kMaxPieces);
  const auto sizes = fields->Values(is_tiled ? kTileByteCounts : kStripByteCounts, kMaxPieces);
  if (!offsets || !sizes || sizes->size() != offsets->size()) {
    return Damaged(where, "the TIFF directory does not say where the picture data lies");
  }
  for (std::size_t i = 0; i < offsets->size(); ++i) {
    if (!Slice(bytes, (*offsets)[i], (*sizes)[i])) {
      return Damaged(where, fmt::format("the TIFF file is truncated: part {} of {} lies beyond its "
                                        "end",
                                        i + 1, offsets->size()));
    }
  }
  return std::monostate{};
}

}  // namespace debossier::image
