// Properties of single characters, by the Unicode Character Database (through GLib).
//
// A character is one code point as UTF-8, as outline::Characters() yields them.
// Not for: whole-text casing with language rules.
#pragma once

#include <string>
#include <string_view>

namespace debossier {

bool IsCapital(const std::string& character);
bool IsSmallLetter(const std::string& character);
bool IsLetter(const std::string& character);
bool IsSpace(const std::string& character);

/// The same letter in the other case; empty where there is none (or more than one code point).
std::string OtherCase(const std::string& character);
std::string ToCapital(const std::string& character);
std::string ToSmallLetter(const std::string& character);

/// The base letter without accents ("É" to "E"); the character itself where it has none.
std::string BaseLetter(const std::string& character);
/// True where the character decomposes into a letter and a mark above it.
bool HasAccent(const std::string& character);

/// True where `text` is well-formed UTF-8 without zero bytes.
bool IsUtf8(std::string_view text);

/// `text` as one line of valid UTF-8, for pages and terminals: damaged bytes, control characters
/// and characters that turn the writing direction (UAX 9) become U+FFFD, line ends become spaces.
/// What goes on beyond `most_bytes` ends with "…".
std::string OneLine(std::string_view text, std::size_t most_bytes = std::string_view::npos);

enum class Breaks { kKept, kEscaped };

/// `text` for a terminal with nothing lost: damaged bytes and control characters as \x1b,
/// characters that turn the writing direction as \u202e; line ends and tabs too, unless kept.
std::string Visible(std::string_view text, Breaks breaks = Breaks::kEscaped);

char32_t CodePoint(const std::string& character);
std::string FromCodePoint(char32_t code_point);

}  // namespace debossier
