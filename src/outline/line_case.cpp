#include "outline/line_case.h"

#include <algorithm>
#include <array>
#include <functional>
#include <string_view>
#include <vector>

#include "base/unicode.h"
#include "outline/lettering.h"

namespace debossier::outline {

namespace {

/// Articles and prepositions of lines that name a place or a maker, in the languages of Western
/// leather goods; common practice, no source.
constexpr std::array kLinkingWords{
    std::string_view("a"),   std::string_view("à"),   std::string_view("and"),
    std::string_view("by"),  std::string_view("da"),  std::string_view("de"),
    std::string_view("del"), std::string_view("des"), std::string_view("di"),
    std::string_view("du"),  std::string_view("e"),   std::string_view("en"),
    std::string_view("et"),  std::string_view("for"), std::string_view("in"),
    std::string_view("la"),  std::string_view("le"),  std::string_view("les"),
    std::string_view("of"),  std::string_view("the"), std::string_view("und"),
    std::string_view("von"), std::string_view("y")};

/// Calls `set` with each word of letters, by their indices [first, end) in `characters`.
void EachWord(const std::vector<std::string>& characters,
              const std::function<void(std::size_t first, std::size_t end)>& set) {
  std::size_t k = 0;
  while (k < characters.size()) {
    std::size_t end = k;
    while (end < characters.size() && IsLetter(characters[end])) ++end;
    if (end > k) set(k, end);
    k = end + 1;
  }
}

std::string Joined(const std::vector<std::string>& characters, std::size_t first, std::size_t end) {
  std::string out;
  for (std::size_t k = first; k < end; ++k) out += characters[k];
  return out;
}

}  // namespace

bool IsLinkingWord(const std::string& word) {
  std::string small;
  for (const auto& c : Characters(word)) small += ToSmallLetter(c);
  return std::find(kLinkingWords.begin(), kLinkingWords.end(), small) != kLinkingWords.end();
}

std::string InCase(const std::string& text, LineCase wanted) {
  const bool initials = wanted == LineCase::kTitle || wanted == LineCase::kMixed;
  if (!initials && wanted != LineCase::kCapitals && wanted != LineCase::kSmall) return text;
  std::vector<std::string> characters = Characters(text);
  EachWord(characters, [&](std::size_t first, std::size_t end) {
    // The first word keeps its capital.
    const bool links =
        wanted == LineCase::kMixed && first > 0 && IsLinkingWord(Joined(characters, first, end));
    for (std::size_t k = first; k < end; ++k) {
      const bool capital = wanted == LineCase::kCapitals || (initials && k == first && !links);
      characters[k] = capital ? ToCapital(characters[k]) : ToSmallLetter(characters[k]);
    }
  });
  return Joined(characters, 0, characters.size());
}

LineCase CaseOfText(const std::string& text) {
  bool cased = false;
  for (const auto& c : Characters(text)) cased |= IsCapital(c) || IsSmallLetter(c);
  if (!cased) return LineCase::kCannotTell;
  for (const auto which : {LineCase::kCapitals, LineCase::kSmall, LineCase::kTitle}) {
    if (InCase(text, which) == text) return which;
  }
  return LineCase::kMixed;
}

}  // namespace debossier::outline
