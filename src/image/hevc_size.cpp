#include "image/hevc_size.h"

#include <algorithm>
#include <string>

#include "image/bytes.h"

namespace debossier::image {

namespace {

constexpr int kSequenceParameterSet = 33;  // H.265, table 7-1

/// Bits of a payload whose emulation prevention bytes (H.265, 7.4.2) are out already; after a read
/// beyond the end all is 0 and ok() is false.
class Bits {
 public:
  explicit Bits(std::string payload) : payload_(std::move(payload)) {}

  std::uint32_t Take(int count) {
    std::uint32_t value = 0;
    for (; count > 0; --count, ++at_) {
      const std::size_t byte = at_ / 8;
      if (byte >= payload_.size()) {
        ok_ = false;
        return 0;
      }
      value = value << 1 | (static_cast<std::uint8_t>(payload_[byte]) >> (7 - at_ % 8) & 1u);
    }
    return value;
  }
  void Skip(int count) {
    at_ += static_cast<std::size_t>(count);
    ok_ = ok_ && at_ <= payload_.size() * 8;
  }
  /// Exponential Golomb code, H.265 9.2.
  std::uint32_t TakeGolomb() {
    int zeros = 0;
    while (ok_ && Take(1) == 0) ++zeros;
    if (!ok_ || zeros > 31) {
      ok_ = false;
      return 0;
    }
    return (std::uint32_t{1} << zeros) - 1 + Take(zeros);
  }
  bool ok() const { return ok_; }

 private:
  std::string payload_;
  std::size_t at_ = 0;
  bool ok_ = true;
};

std::string WithoutEmulationPrevention(std::string_view unit) {
  std::string payload;
  int zeros = 0;
  for (const char c : unit) {
    if (zeros >= 2 && c == 3) {
      zeros = 0;
      continue;
    }
    zeros = c == 0 ? zeros + 1 : 0;
    payload += c;
  }
  return payload;
}

std::optional<HevcSize> SizeOf(std::string_view parameter_set) {
  // The size stands within the first bytes; what follows may be long.
  constexpr std::size_t kEnough = 512;
  Bits bits(WithoutEmulationPrevention(parameter_set.substr(0, kEnough)));
  bits.Skip(16 + 4);  // unit header, video parameter set
  const std::uint32_t sub_layers = bits.Take(3);
  bits.Skip(1);
  constexpr int kProfile = 88, kLevel = 8;
  bits.Skip(kProfile + kLevel);
  bool has_profile[8] = {}, has_level[8] = {};
  for (std::uint32_t i = 0; i < sub_layers; ++i) {
    has_profile[i] = bits.Take(1) != 0;
    has_level[i] = bits.Take(1) != 0;
  }
  if (sub_layers > 0) bits.Skip(static_cast<int>(8 - sub_layers) * 2);
  for (std::uint32_t i = 0; i < sub_layers; ++i) {
    bits.Skip((has_profile[i] ? kProfile : 0) + (has_level[i] ? kLevel : 0));
  }
  bits.TakeGolomb();                         // its number
  if (bits.TakeGolomb() == 3) bits.Skip(1);  // chroma format; separate planes
  HevcSize size;
  size.width = bits.TakeGolomb();
  size.height = bits.TakeGolomb();
  if (!bits.ok()) return std::nullopt;
  return size;
}

/// Takes the larger of each side from a unit that is a parameter set; false where it breaks off.
bool TakeUnit(std::string_view unit, HevcSize& largest) {
  if (unit.empty()) return true;
  if ((static_cast<std::uint8_t>(unit[0]) >> 1 & 63) != kSequenceParameterSet) return true;
  const auto size = SizeOf(unit);
  if (!size) return false;
  largest.width = std::max(largest.width, size->width);
  largest.height = std::max(largest.height, size->height);
  return true;
}

}  // namespace

std::optional<HevcSize> LargestHevcSize(std::string_view configuration, std::string_view data) {
  HevcSize largest;
  const auto arrays = ReadUint(configuration, 22, 1, Endian::kBig);
  if (!arrays) return std::nullopt;
  std::uint64_t at = 23;
  for (std::uint32_t i = 0; i < *arrays; ++i) {
    const auto units = ReadUint(configuration, at + 1, 2, Endian::kBig);
    if (!units) return std::nullopt;
    at += 3;
    for (std::uint32_t k = 0; k < *units; ++k) {
      const auto length = ReadUint(configuration, at, 2, Endian::kBig);
      const auto unit = length ? Slice(configuration, at + 2, *length) : std::nullopt;
      if (!unit || !TakeUnit(*unit, largest)) return std::nullopt;
      at += 2 + unit->size();
    }
  }
  // Parameter sets within the picture data come last and would win.
  for (at = 0; at < data.size();) {
    const auto length = ReadUint(data, at, 4, Endian::kBig);
    const auto unit = length ? Slice(data, at + 4, *length) : std::nullopt;
    if (!unit || !TakeUnit(*unit, largest)) return std::nullopt;
    at += 4 + unit->size();
  }
  if (largest.width == 0 || largest.height == 0) return std::nullopt;
  return largest;
}

}  // namespace debossier::image
