#include "base/base64.h"

#include <cstdint>

namespace debossier {

std::string Base64(std::string_view bytes) {
  constexpr char kAlphabet[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string text;
  text.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t at = 0; at < bytes.size(); at += 3) {
    const std::string_view group = bytes.substr(at, 3);
    std::uint32_t bits = 0;
    for (std::size_t k = 0; k < 3; ++k) {
      bits = bits << 8 | (k < group.size() ? static_cast<unsigned char>(group[k]) : 0u);
    }
    for (std::size_t k = 0; k < 4; ++k) {
      text += k <= group.size() ? kAlphabet[bits >> (18 - 6 * k) & 63] : '=';
    }
  }
  return text;
}

}  // namespace debossier
