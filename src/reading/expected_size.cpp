#include "reading/expected_size.h"

#include <map>

#include "base/unicode.h"
#include "outline/letter_class.h"

namespace debossier::reading {

namespace {

const std::map<std::string, ExpectedSize>& Signs() {
  static const std::map<std::string, ExpectedSize> signs = {
      {".", {0.15, 0, 0.15}},   {",", {0.17, -0.15, 0.15}}, {"·", {0.17, 0.35, 0.6}},
      {"•", {0.25, 0.3, 0.7}},  {":", {0.15, 0, 0.6}},      {";", {0.17, -0.15, 0.6}},
      {"-", {0.35, 0.3, 0.42}}, {"–", {0.6, 0.3, 0.42}},    {"'", {0.14, 0.65, 1}},
      {"’", {0.16, 0.65, 1}},   {"&", {0.85, 0, 1}},        {"!", {0.15, 0, 1}},
      {"®", {0.5, 0.5, 1}},     {"©", {0.5, 0.5, 1}},       {"™", {0.6, 0.6, 1}},
      {"/", {0.5, 0, 1}},       {"1", {0.38, 0, 1}},
  };
  return signs;
}

double CapitalWidth(char base) {
  switch (base) {
    case 'I':
      return 0.2;
    case 'J':
      return 0.5;
    case 'E':
    case 'F':
    case 'L':
      return 0.6;
    case 'B':
    case 'P':
    case 'S':
    case 'K':
    case 'R':
      return 0.65;
    case 'M':
      return 0.95;
    case 'W':
      return 1.15;
    case 'C':
    case 'D':
    case 'G':
    case 'O':
    case 'Q':
      return 0.82;
    default:
      return 0.75;
  }
}

double SmallWidth(char base) {
  switch (base) {
    case 'i':
    case 'l':
      return 0.16;
    case 'j':
      return 0.25;
    case 'f':
    case 't':
    case 'r':
      return 0.36;
    case 'm':
      return 0.85;
    case 'w':
      return 0.78;
    default:
      return 0.52;
  }
}

}  // namespace

ExpectedSize SizeOf(const std::string& character) {
  const auto sign = Signs().find(character);
  if (sign != Signs().end()) return sign->second;
  const std::string base_letter = BaseLetter(character);
  const char base = base_letter.size() == 1 ? base_letter[0] : '\0';
  ExpectedSize size;
  if (IsSmallLetter(base_letter)) {
    const std::string ascenders = "bdfhklit";
    const std::string descenders = "gjpqy";
    size.width = SmallWidth(base);
    size.top =
        base != '\0' && ascenders.find(base) != std::string::npos ? 1.0 : outline::kUsualXHeight;
    size.bottom = base != '\0' && descenders.find(base) != std::string::npos ? -0.28 : 0.0;
    if (base == 'j') size.top = 1.0;
  } else {
    size.width = CapitalWidth(base);
  }
  if (HasAccent(character)) size.top += size.top < 1 ? 0.25 : 0.3;
  return size;
}

std::optional<int> CountersOf(const std::string& character) {
  if (HasAccent(character)) return std::nullopt;
  const std::string base = BaseLetter(character);
  if (base.size() != 1) return std::nullopt;
  if (base[0] == 'B' || base[0] == '8') return 2;
  // One or two stories, or open in some faces.
  const std::string varies = "gQ04&";
  if (varies.find(base[0]) != std::string::npos) return std::nullopt;
  const std::string one = "ADOPRabdeopq69";
  if (one.find(base[0]) != std::string::npos) return 1;
  const std::string none = "CEFGHIJKLMNSTUVWXYZcfhijklmnrstuvwxyz12357";
  if (none.find(base[0]) != std::string::npos) return 0;
  return std::nullopt;
}

}  // namespace debossier::reading
