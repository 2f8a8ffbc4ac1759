// JPEG: ITU-T T.81 (ISO/IEC 10918-1), annex B, with EXIF in APP1 (EXIF 2.32, section 4.7.2).
#include <optional>

#include "image/bytes.h"
#include "image/picture_file.h"

namespace debossier::image {

namespace {

// Marker codes, T.81 table B.1; each stands after a byte 0xff.
constexpr std::uint8_t kTem = 0x01;
constexpr std::uint8_t kSof0 = 0xc0;
constexpr std::uint8_t kDht = 0xc4;
constexpr std::uint8_t kJpg = 0xc8;
constexpr std::uint8_t kDac = 0xcc;
constexpr std::uint8_t kSof15 = 0xcf;
constexpr std::uint8_t kRst0 = 0xd0;
constexpr std::uint8_t kEoi = 0xd9;
constexpr std::uint8_t kSos = 0xda;
constexpr std::uint8_t kApp1 = 0xe1;

/// A progressive photo has about ten scans. Each costs a pass over all pixels however few bytes
/// it has, so their number is bounded.
constexpr int kMaxScans = 100;

struct Segment {
  std::uint8_t marker = 0;
  std::string_view parameters;
};

bool StandsAlone(std::uint8_t marker) {
  return marker == kTem || (marker >= kRst0 && marker <= kEoi);
}

bool IsFrame(std::uint8_t marker) {
  return marker >= kSof0 && marker <= kSof15 && marker != kDht && marker != kJpg && marker != kDac;
}

/// Baseline, extended and progressive, Huffman or arithmetic: what libjpeg decodes.
bool IsReadableFrame(std::uint8_t marker) {
  return marker <= 0xc2 || marker == 0xc9 || marker == 0xca;
}

/// Walks the markers behind SOI. Coded data and stray bytes between segments are stepped over the
/// way decoders do: a byte 0xff followed by neither 0x00 nor 0xff is the next marker.
class Segments {
 public:
  explicit Segments(std::string_view bytes) : bytes_(bytes), at_(2) {}

  /// The next segment, or nothing where the file ends before it does.
  std::optional<Segment> Next() {
    for (at_ = bytes_.find('\xff', at_); at_ != std::string_view::npos;
         at_ = bytes_.find('\xff', at_)) {
      at_ = bytes_.find_first_not_of('\xff', at_);
      if (at_ == std::string_view::npos) return std::nullopt;
      const auto marker = static_cast<std::uint8_t>(bytes_[at_++]);
      if (marker == 0) continue;
      if (StandsAlone(marker)) return Segment{marker, {}};
      const auto length = ReadUint(bytes_, at_, 2, Endian::kBig);
      if (!length || *length < 2) return std::nullopt;
      const auto parameters = Slice(bytes_, at_ + 2, *length - 2);
      if (!parameters) return std::nullopt;
      at_ += *length;
      return Segment{marker, *parameters};
    }
    return std::nullopt;
  }

 private:
  std::string_view bytes_;
  std::size_t at_;
};

/// Precision, lines, samples a line, components (T.81, B.2.2).
std::optional<JpegFrame> FrameOf(const Segment& segment) {
  const auto bits = ReadUint(segment.parameters, 0, 1, Endian::kBig);
  const auto height = ReadUint(segment.parameters, 1, 2, Endian::kBig);
  const auto width = ReadUint(segment.parameters, 3, 2, Endian::kBig);
  const auto components = ReadUint(segment.parameters, 5, 1, Endian::kBig);
  if (!components) return std::nullopt;
  return JpegFrame{segment.marker, static_cast<int>(*bits), *height, *width,
                   static_cast<int>(*components)};
}

}  // namespace

std::optional<JpegFrame> FindJpegFrame(std::string_view bytes) {
  if (!bytes.starts_with("\xff\xd8")) return std::nullopt;
  Segments segments(bytes);
  for (auto segment = segments.Next();
       segment && segment->marker != kSos && segment->marker != kEoi; segment = segments.Next()) {
    if (IsFrame(segment->marker)) return FrameOf(*segment);
  }
  return std::nullopt;
}

Result<Header> ReadJpegHeader(std::string_view bytes, const std::string& where) {
  Header header;
  header.format = Format::kJpeg;
  bool has_frame = false;
  bool has_exif = false;
  Segments segments(bytes);
  for (auto segment = segments.Next(); segment && segment->marker != kSos;
       segment = segments.Next()) {
    if (segment->marker == kEoi) break;
    if (segment->marker == kApp1 && !has_exif &&
        segment->parameters.starts_with(std::string_view("Exif\0\0", 6))) {
      has_exif = true;
      ApplyExif(segment->parameters, header);
    }
    if (!IsFrame(segment->marker) || has_frame) continue;
    const auto frame = FrameOf(*segment);
    if (!frame) return Damaged(where, "the JPEG frame header is cut off");
    if (!IsReadableFrame(segment->marker) || frame->bits != 8) {
      return UnsupportedKind(where, "is a lossless, hierarchical or 12-bit JPEG");
    }
    if (frame->width == 0 || frame->height == 0) {
      return Damaged(where, "the JPEG header gives no width or no height");
    }
    header.width = SidePx(frame->width);
    header.height = SidePx(frame->height);
    has_frame = true;
  }
  if (!has_frame) return Damaged(where, "the JPEG file breaks off in its header");
  return header;
}

Result<std::monostate> CheckJpegWhole(std::string_view bytes, const std::string& where) {
  int scans = 0;
  Segments segments(bytes);
  for (auto segment = segments.Next(); segment; segment = segments.Next()) {
    if (segment->marker == kEoi) {
      if (scans == 0) return Damaged(where, "the JPEG file holds no picture data");
      return std::monostate{};
    }
    if (segment->marker == kSos && ++scans > kMaxScans) {
      return Damaged(where, "the JPEG file has more scans than any camera or program writes");
    }
  }
  return Damaged(where, "the JPEG file is truncated: its end marker is missing");
}

}  // namespace debossier::image
