#include "fuzz/mutate.h"

#include <algorithm>
#include <array>
#include <cctype>

namespace debossier::fuzz {

namespace {

/// Below `bound`; no distribution of the standard library, which differ between machines.
std::size_t Below(std::size_t bound, std::mt19937_64& random) {
  return bound == 0 ? 0 : static_cast<std::size_t>(random() % bound);
}

/// What a number or a name may be exchanged for.
constexpr std::array kTokens = {
    "0",       "-1",   "1e999",      "-1e999", "NaN",  "inf",        "99999999999999999999",
    "1e-320",  "",     "null",       "true",   "[]",   "{}",         "\"",
    "../../x", "/etc", "4294967295", "-0",     "0x10", "2147483648", "1e300"};

void ExchangeToken(std::string& bytes, std::mt19937_64& random) {
  const auto is_token = [](char c) {
    return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '.' || c == '-';
  };
  const auto at =
      std::find_if(bytes.begin() + static_cast<std::ptrdiff_t>(Below(bytes.size(), random)),
                   bytes.end(), is_token);
  const auto end = std::find_if_not(at, bytes.end(), is_token);
  bytes.replace(at, end, kTokens[Below(kTokens.size(), random)]);
}

/// Two or four bytes become a size that is easily got wrong.
void ExchangeSize(std::string& bytes, std::mt19937_64& random) {
  constexpr std::array<std::uint8_t, 6> kBytes = {0x00, 0xff, 0x7f, 0x80, 0x01, 0x40};
  const std::size_t at = Below(bytes.size(), random);
  const std::size_t count = std::min<std::size_t>(random() % 2 ? 2 : 4, bytes.size() - at);
  for (std::size_t i = 0; i < count; ++i) {
    bytes[at + i] = static_cast<char>(kBytes[Below(kBytes.size(), random)]);
  }
}

void DamageOnce(const std::vector<std::string>& seeds, std::string& bytes,
                std::mt19937_64& random) {
  constexpr std::size_t kLongest = 64;
  const std::size_t at = Below(bytes.size() + 1, random);
  const std::size_t count = Below(kLongest, random);
  switch (random() % 9) {
    case 0:
      if (at < bytes.size()) bytes[at] = static_cast<char>(bytes[at] ^ 1 << random() % 8);
      break;
    case 1:
      if (at < bytes.size()) bytes[at] = static_cast<char>(random());
      break;
    case 2:
      bytes.erase(at, count);
      break;
    case 3:
      bytes.insert(at, bytes.substr(Below(bytes.size(), random), count));
      break;
    case 4:
      for (std::size_t i = 0; i < count; ++i) bytes.insert(at, 1, static_cast<char>(random()));
      break;
    case 5: {
      const std::string& other = seeds[Below(seeds.size(), random)];
      const std::size_t from = Below(other.size(), random);
      bytes.replace(at, count, other, from, Below(other.size() - from + 1, random));
      break;
    }
    case 6:
      ExchangeToken(bytes, random);
      break;
    case 7:
      ExchangeSize(bytes, random);
      break;
    default:
      if (random() % 4 == 0) bytes.resize(at);
      break;
  }
}

}  // namespace

std::string Mutated(const std::vector<std::string>& seeds, std::size_t which,
                    std::mt19937_64& random) {
  std::string bytes = seeds[which];
  for (std::size_t times = 1 + Below(4, random); times > 0; --times) {
    DamageOnce(seeds, bytes, random);
  }
  return bytes;
}

}  // namespace debossier::fuzz
