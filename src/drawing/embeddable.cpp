#include "drawing/embeddable.h"

#include <algorithm>
#include <cstdint>

namespace debossier::report {

bool CanEmbedFile(const image::Photo& photo) {
  if (photo.header.format != image::Format::kJpeg) return false;
  const auto frame = image::FindJpegFrame(photo.bytes);
  if (!frame) return false;
  constexpr std::uint32_t kMostOfCairo = 32767;
  const auto width = static_cast<std::uint32_t>(photo.header.width);
  const auto height = static_cast<std::uint32_t>(photo.header.height);
  // Baseline, extended sequential and progressive Huffman coding of 8-bit samples.
  const bool is_common = frame->marker >= 0xC0 && frame->marker <= 0xC2 && frame->bits == 8;
  const bool is_plain = frame->components == 1 || frame->components == 3;
  return is_common && is_plain && frame->width == width && frame->height == height &&
         std::max(width, height) <= kMostOfCairo;
}

}  // namespace debossier::report
