#include "outline/plist.h"

#include <charconv>
#include <cmath>
#include <set>
#include <string_view>

namespace debossier::outline {

namespace {

constexpr double kLargest = 1e6;  ///< A coordinate beyond this is damage, not a letter.

bool IsNamed(const pugi::xml_node& node, std::string_view name) { return node.name() == name; }

}  // namespace

pugi::xml_node PlistRoot(const pugi::xml_document& document, const char* kind) {
  return document.child("plist").child(kind);
}

std::optional<PlistEntries> Entries(const pugi::xml_node& dict) {
  PlistEntries entries;
  std::set<std::string> seen;
  pugi::xml_node node = dict.first_child();
  while (node) {
    const pugi::xml_node value = node.next_sibling();
    std::string key = node.child_value();
    if (!IsNamed(node, "key") || !value || IsNamed(value, "key")) return std::nullopt;
    if (!seen.insert(key).second) return std::nullopt;
    entries.emplace_back(std::move(key), value);
    node = value.next_sibling();
  }
  return entries;
}

pugi::xml_node ValueOf(const PlistEntries& entries, const std::string& key) {
  for (const auto& [name, value] : entries) {
    if (name == key) return value;
  }
  return {};
}

std::optional<std::string> StringOf(const pugi::xml_node& value) {
  if (!IsNamed(value, "string")) return std::nullopt;
  return value.child_value();
}

std::optional<double> NumberOf(const pugi::xml_node& value) {
  if (!IsNamed(value, "integer") && !IsNamed(value, "real")) return std::nullopt;
  return ParseNumber(value.child_value());
}

std::optional<double> ParseNumber(std::string_view text) {
  constexpr std::string_view kSpace = " \t\r\n";
  const std::size_t first = text.find_first_not_of(kSpace);
  if (first == std::string_view::npos) return std::nullopt;
  text = text.substr(first, text.find_last_not_of(kSpace) - first + 1);
  double number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  if (!std::isfinite(number) || std::abs(number) > kLargest) return std::nullopt;
  return number;
}

}  // namespace debossier::outline
