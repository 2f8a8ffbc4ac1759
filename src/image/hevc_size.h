// The picture size that coded HEVC data declares, so that it can be held against the file's header
// before a decoder reserves memory for it.
//
// Source: ITU-T H.265, 7.3.2.2 (sequence parameter set) and ISO/IEC 14496-15, 8.3.3.1 (hvcC).
// Not for: decoding.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

namespace debossier::image {

struct HevcSize {
  std::uint32_t width = 0;  ///< Luma samples, before the conformance window cuts padding off.
  std::uint32_t height = 0;
};

/// The largest width and the largest height that the parameter sets in the decoder configuration
/// (an hvcC property) and in the picture data behind it declare. Nothing where there is no
/// parameter set, or where one of them or the picture data breaks off.
std::optional<HevcSize> LargestHevcSize(std::string_view configuration, std::string_view data);

}  // namespace debossier::image
