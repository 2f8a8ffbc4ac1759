#include <algorithm>
#include <array>
#include <string_view>

#include "outline/lettering.h"
#include "outline/ufo.h"

namespace debossier::outline {

namespace {

/// Names that some file systems keep for devices (UFO 3, conventions).
constexpr std::array<std::string_view, 13> kReserved{"con",  "prn",  "aux",  "clock$", "nul",
                                                     "com1", "com2", "com3", "com4",   "lpt1",
                                                     "lpt2", "lpt3", "lpt4"};
constexpr std::string_view kIllegal = "\"*+/:<>?[\\]()|";
constexpr std::size_t kLongestStem = 200;  ///< Of 255: leaves room for marks and numbers.
constexpr std::string_view kSuffix = ".glif";

char Lowered(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

/// Puts "_" before every part between full stops that is a reserved name.
std::string WithReservedPartsMarked(const std::string& name) {
  std::string out;
  for (std::size_t begin = 0; begin <= name.size();) {
    const std::size_t end = std::min(name.find('.', begin), name.size());
    std::string part = name.substr(begin, end - begin);
    std::string lowered = part;
    std::transform(lowered.begin(), lowered.end(), lowered.begin(), Lowered);
    const bool reserved = std::find(kReserved.begin(), kReserved.end(), lowered) != kReserved.end();
    if (reserved) out += '_';
    out += part;
    if (end < name.size()) out += '.';
    begin = end + 1;
  }
  return out;
}

}  // namespace

std::string GlifFileName(const std::string& glyph_name) {
  std::string name;
  for (const std::string& character : Characters(glyph_name)) {
    const char c = character.front();
    const bool control = static_cast<unsigned char>(c) < 0x20 || c == 0x7F;
    const bool illegal =
        control || kIllegal.find(c) != std::string_view::npos || (c == '.' && name.empty());
    const bool capital = Lowered(c) != c;
    if (name.size() + character.size() + (capital ? 1 : 0) > kLongestStem) break;
    if (illegal) {
      name += '_';
    } else {
      name += character;
    }
    if (capital) name += '_';
  }
  if (name.empty()) name += '_';
  name = WithReservedPartsMarked(name);
  return name + std::string(kSuffix);
}

}  // namespace debossier::outline
