// Unsigned integers and slices out of untrusted bytes: nothing where they do not lie in them.
//
// Not for: whole structures; the readers of each format are beside this file.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>

namespace debossier::image {

enum class Endian { kLittle, kBig };

/// The `size` bytes at `offset`, or nothing where they run over the end of `bytes`.
inline std::optional<std::string_view> Slice(std::string_view bytes, std::uint64_t offset,
                                             std::uint64_t size) {
  if (offset > bytes.size() || size > bytes.size() - offset) return std::nullopt;
  return bytes.substr(static_cast<std::size_t>(offset), static_cast<std::size_t>(size));
}

/// The unsigned integer of `size` bytes (1 to 4) at `offset`, or nothing where it does not fit.
inline std::optional<std::uint32_t> ReadUint(std::string_view bytes, std::uint64_t offset, int size,
                                             Endian endian) {
  const auto slice = Slice(bytes, offset, static_cast<std::uint64_t>(size));
  if (!slice) return std::nullopt;
  std::uint32_t value = 0;
  for (int i = 0; i < size; ++i) {
    const int at = endian == Endian::kBig ? i : size - 1 - i;
    value = value << 8 | static_cast<std::uint8_t>((*slice)[static_cast<std::size_t>(at)]);
  }
  return value;
}

}  // namespace debossier::image
