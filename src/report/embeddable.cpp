#include "report/embeddable.h"

#include <algorithm>

namespace debossier::report {
namespace {

constexpr int kMaxCairoSide = 32767;

struct StartOfFrame {
  int marker = 0;
  int bits = 0;
  int height = 0;
  int width = 0;
  int components = 0;
};

// The first start-of-frame segment of a JPEG file (ITU-T T.81, annex B); marker 0 where none.
StartOfFrame ReadStartOfFrame(const std::string& bytes) {
  const auto at = [&](std::size_t i) { return static_cast<unsigned char>(bytes[i]); };
  if (bytes.size() < 4 || at(0) != 0xFF || at(1) != 0xD8) return {};
  std::size_t i = 2;
  while (i + 9 < bytes.size()) {
    if (at(i) != 0xFF) return {};
    const int marker = at(i + 1);
    if (marker == 0xFF) {  // fill byte
      ++i;
      continue;
    }
    const bool is_frame =
        marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC;
    if (is_frame) {
      return {marker, at(i + 4), at(i + 5) << 8 | at(i + 6), at(i + 7) << 8 | at(i + 8), at(i + 9)};
    }
    if (marker == 0xDA || marker == 0xD9) return {};
    i += 2 + static_cast<std::size_t>(at(i + 2) << 8 | at(i + 3));
  }
  return {};
}

}  // namespace

bool CanEmbedFile(const image::Photo& photo) {
  if (photo.header.format != image::Format::kJpeg) return false;
  const StartOfFrame frame = ReadStartOfFrame(photo.bytes);
  // Baseline, extended sequential and progressive Huffman coding of 8-bit samples.
  const bool common = frame.marker >= 0xC0 && frame.marker <= 0xC2 && frame.bits == 8;
  const bool plain = frame.components == 1 || frame.components == 3;
  return common && plain && frame.width == photo.header.width &&
         frame.height == photo.header.height &&
         std::max(frame.width, frame.height) <= kMaxCairoSide;
}

}  // namespace debossier::report
