// PNG: W3C Portable Network Graphics, 2nd and 3rd edition (ISO/IEC 15948), with the eXIf chunk.
#include <optional>

#include "image/bytes.h"
#include "image/picture_file.h"

namespace debossier::image {

namespace {

constexpr std::size_t kSignatureSize = 8;
constexpr std::uint32_t kMaxField = 0x7fffffff;  // Section 7.1: integers stay below 2^31.

struct Chunk {
  std::string_view type;
  std::string_view data;
};

/// Walks the chunks behind the signature: length, type, data, checksum (section 5.3).
class Chunks {
 public:
  explicit Chunks(std::string_view bytes) : bytes_(bytes) {}

  /// The next chunk, or nothing where the file ends before it does.
  std::optional<Chunk> Next() {
    const auto length = ReadUint(bytes_, at_, 4, Endian::kBig);
    if (!length || *length > kMaxField) return std::nullopt;
    const auto whole = Slice(bytes_, at_, std::uint64_t{*length} + 12);
    if (!whole) return std::nullopt;
    at_ += whole->size();
    return Chunk{whole->substr(4, 4), whole->substr(8, *length)};
  }

 private:
  std::string_view bytes_;
  std::uint64_t at_ = kSignatureSize;
};

}  // namespace

Result<Header> ReadPngHeader(std::string_view bytes, const std::string& where) {
  Header header;
  header.format = Format::kPng;
  Chunks chunks(bytes);
  // The header chunk comes first and has 13 bytes (section 11.2.2).
  const auto first = chunks.Next();
  if (!first || first->type != "IHDR" || first->data.size() != 13) {
    return Damaged(where, "the PNG file does not begin with a whole header chunk");
  }
  const std::uint32_t width = ReadUint(first->data, 0, 4, Endian::kBig).value_or(0);
  const std::uint32_t height = ReadUint(first->data, 4, 4, Endian::kBig).value_or(0);
  if (width == 0 || height == 0 || width > kMaxField || height > kMaxField) {
    return Damaged(where, "the PNG header gives an impossible width or height");
  }
  header.width = SidePx(width);
  header.height = SidePx(height);
  for (auto chunk = chunks.Next(); chunk && chunk->type != "IEND"; chunk = chunks.Next()) {
    if (chunk->type != "eXIf") continue;
    ApplyExif(chunk->data, header);
    break;
  }
  return header;
}

Result<std::monostate> CheckPngWhole(std::string_view bytes, const std::string& where) {
  bool has_pixels = false;
  Chunks chunks(bytes);
  for (auto chunk = chunks.Next(); chunk; chunk = chunks.Next()) {
    has_pixels = has_pixels || chunk->type == "IDAT";
    if (chunk->type != "IEND") continue;
    if (!has_pixels) return Damaged(where, "the PNG file holds no picture data");
    return std::monostate{};
  }
  return Damaged(where, "the PNG file is truncated: its end chunk is missing");
}

}  // namespace debossier::image
