// WebP: RFC 9649 (container, section 2; lossless stream, section 3) and RFC 6386 (lossy frames).
#include <optional>

#include "image/bytes.h"
#include "image/picture_file.h"

namespace debossier::image {

namespace {

constexpr std::size_t kRiffHeaderSize = 12;

struct Chunk {
  std::string_view type;
  std::string_view data;
};

/// Walks the chunks behind "RIFF", size, "WEBP": type, length, data, a pad byte where odd.
class Chunks {
 public:
  explicit Chunks(std::string_view bytes) : bytes_(bytes) {}

  /// The next chunk, or nothing where the file ends before it does.
  std::optional<Chunk> Next() {
    const auto type = Slice(bytes_, at_, 4);
    const auto length = ReadUint(bytes_, at_ + 4, 4, Endian::kLittle);
    if (!type || !length) return std::nullopt;
    const auto data = Slice(bytes_, at_ + 8, *length);
    if (!data) return std::nullopt;
    at_ += 8 + std::uint64_t{*length} + (*length & 1u);
    return Chunk{*type, *data};
  }

 private:
  std::string_view bytes_;
  std::uint64_t at_ = kRiffHeaderSize;
};

struct Size {
  std::uint32_t width = 0;
  std::uint32_t height = 0;
  bool operator==(const Size&) const = default;
};

/// Size in the head of a lossy key frame: RFC 6386, 9.1. `data` may be cut off behind it.
std::optional<Size> LossySize(std::string_view data) {
  const auto width = ReadUint(data, 6, 2, Endian::kLittle);
  const auto height = ReadUint(data, 8, 2, Endian::kLittle);
  if (!height || data.substr(3, 3) != "\x9d\x01\x2a") return std::nullopt;
  return Size{*width & 0x3fffu, *height & 0x3fffu};
}

/// Size in the head of a lossless stream: RFC 9649, 3.4: 14 bits each, less one.
std::optional<Size> LosslessSize(std::string_view data) {
  const auto bits = ReadUint(data, 1, 4, Endian::kLittle);
  if (!bits || data[0] != '\x2f') return std::nullopt;
  return Size{(*bits & 0x3fffu) + 1, (*bits >> 14 & 0x3fffu) + 1};
}

/// Canvas size of an extended file: RFC 9649, 2.7: 24 bits each, less one.
std::optional<Size> CanvasSize(std::string_view data) {
  const auto width = ReadUint(data, 4, 3, Endian::kLittle);
  const auto height = ReadUint(data, 7, 3, Endian::kLittle);
  if (!height) return std::nullopt;
  return Size{*width + 1, *height + 1};
}

std::optional<Size> PictureSize(std::string_view type, std::string_view data) {
  if (type == "VP8 ") return LossySize(data);
  if (type == "VP8L") return LosslessSize(data);
  if (type == "VP8X") return CanvasSize(data);
  return std::nullopt;
}

}  // namespace

Result<Header> ReadWebpHeader(std::string_view bytes, const std::string& where) {
  constexpr std::uint8_t kAnimated = 0x02;
  // The first chunk tells the size, even where its data breaks off.
  const std::string_view type = bytes.substr(kRiffHeaderSize, 4);
  const std::string_view data =
      bytes.size() < kRiffHeaderSize + 8 ? "" : bytes.substr(kRiffHeaderSize + 8);
  const auto size = PictureSize(type, data);
  if (!size || size->width == 0 || size->height == 0) {
    return Damaged(where, "the WebP file breaks off in its header or has none");
  }
  if (type == "VP8X" && (static_cast<std::uint8_t>(data[0]) & kAnimated) != 0) {
    return UnsupportedKind(where, "is an animated WebP, not a photo");
  }
  Header header;
  header.format = Format::kWebp;
  header.width = SidePx(size->width);
  header.height = SidePx(size->height);
  Chunks chunks(bytes);
  for (auto chunk = chunks.Next(); chunk; chunk = chunks.Next()) {
    if (chunk->type != "EXIF") continue;
    ApplyExif(chunk->data, header);
    break;
  }
  return header;
}

Result<std::monostate> CheckWebpWhole(std::string_view bytes, const std::string& where) {
  const auto riff_size = ReadUint(bytes, 4, 4, Endian::kLittle);
  const auto file = Slice(bytes, 0, std::uint64_t{riff_size.value_or(0)} + 8);
  if (!riff_size || !file || file->size() < kRiffHeaderSize) {
    return Damaged(where, "the WebP file is truncated: it is shorter than it says");
  }
  std::optional<Size> canvas;
  Chunks chunks(*file);
  for (auto chunk = chunks.Next(); chunk; chunk = chunks.Next()) {
    const auto size = PictureSize(chunk->type, chunk->data);
    if (!size) continue;
    // A picture of another size than its canvas would get past the limits.
    if (canvas && *canvas != *size) {
      return Damaged(where, "the WebP file holds a picture of another size than its header says");
    }
    canvas = size;
    if (chunk->type != "VP8X") return std::monostate{};
  }
  return Damaged(where, "the WebP file is truncated: its picture data is missing or cut off");
}

}  // namespace debossier::image
