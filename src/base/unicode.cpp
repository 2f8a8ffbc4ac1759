#include "base/unicode.h"

#include <fmt/format.h>
#include <glib.h>

#include <array>

namespace debossier {

char32_t CodePoint(const std::string& character) {
  const gunichar c =
      g_utf8_get_char_validated(character.data(), static_cast<gssize>(character.size()));
  return c >= static_cast<gunichar>(-2) ? U'\uFFFD' : static_cast<char32_t>(c);
}

std::string FromCodePoint(char32_t code_point) {
  std::array<char, 6> buffer{};
  const int length = g_unichar_to_utf8(code_point, buffer.data());
  return std::string(buffer.data(), static_cast<std::size_t>(length));
}

bool IsCapital(const std::string& character) { return g_unichar_isupper(CodePoint(character)); }
bool IsSmallLetter(const std::string& character) { return g_unichar_islower(CodePoint(character)); }
bool IsLetter(const std::string& character) { return g_unichar_isalpha(CodePoint(character)); }
bool IsSpace(const std::string& character) { return g_unichar_isspace(CodePoint(character)); }

std::string ToCapital(const std::string& character) {
  return FromCodePoint(g_unichar_toupper(CodePoint(character)));
}
std::string ToSmallLetter(const std::string& character) {
  return FromCodePoint(g_unichar_tolower(CodePoint(character)));
}

std::string OtherCase(const std::string& character) {
  const std::string other = IsCapital(character) ? ToSmallLetter(character) : ToCapital(character);
  return other == character ? std::string() : other;
}

std::string BaseLetter(const std::string& character) {
  gunichar first = 0;
  gunichar second = 0;
  gunichar c = CodePoint(character);
  while (g_unichar_decompose(c, &first, &second) && second != 0) c = first;
  return FromCodePoint(c);
}

bool HasAccent(const std::string& character) { return BaseLetter(character) != character; }

bool IsUtf8(std::string_view text) {
  return g_utf8_validate_len(text.data(), text.size(), nullptr) != FALSE;
}

namespace {

// They would make a file name read as another.
bool TurnsDirection(gunichar c) {
  return (c >= 0x202A && c <= 0x202E) || (c >= 0x2066 && c <= 0x2069);
}

}  // namespace

std::string OneLine(std::string_view text, std::size_t most_bytes) {
  constexpr char32_t kReplacement = 0xFFFD;
  std::string line;
  std::size_t at = 0;
  while (at < text.size() && line.size() < most_bytes) {
    const gunichar c =
        g_utf8_get_char_validated(text.data() + at, static_cast<gssize>(text.size() - at));
    const bool damaged = c == static_cast<gunichar>(-1) || c == static_cast<gunichar>(-2);
    at += damaged ? 1 : static_cast<std::size_t>(g_unichar_to_utf8(c, nullptr));
    if (!damaged && (c == '\n' || c == '\t' || c == '\r' || c == 0x2028 || c == 0x2029)) {
      line += ' ';
    } else if (damaged || g_unichar_iscntrl(c) || TurnsDirection(c)) {
      line += FromCodePoint(kReplacement);
    } else {
      line += FromCodePoint(c);
    }
  }
  if (at < text.size()) line += "…";
  return line;
}

std::string Visible(std::string_view text, Breaks breaks) {
  std::string shown;
  std::size_t at = 0;
  while (at < text.size()) {
    const gunichar c =
        g_utf8_get_char_validated(text.data() + at, static_cast<gssize>(text.size() - at));
    const bool damaged = c == static_cast<gunichar>(-1) || c == static_cast<gunichar>(-2);
    const std::size_t size = damaged ? 1 : static_cast<std::size_t>(g_unichar_to_utf8(c, nullptr));
    const bool is_break = c == '\n' || c == '\t';
    if (damaged) {
      shown += fmt::format("\\x{:02x}", static_cast<unsigned char>(text[at]));
    } else if (is_break && breaks == Breaks::kKept) {
      shown += text[at];
    } else if (g_unichar_iscntrl(c)) {
      shown += fmt::format("\\x{:02x}", c);
    } else if (TurnsDirection(c) || c == 0x2028 || c == 0x2029) {
      shown += fmt::format("\\u{:04x}", c);
    } else {
      shown += text.substr(at, size);
    }
    at += size;
  }
  return shown;
}

}  // namespace debossier
