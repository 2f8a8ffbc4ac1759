// The few shapes of property list that a UFO needs: dictionaries, arrays, strings, numbers.
//
// Not for: dates, data and other property lists; they pass unread.
#pragma once

#include <optional>
#include <pugixml.hpp>
#include <string>
#include <utility>
#include <vector>

namespace debossier::outline {

/// Key and value nodes in the document's order.
using PlistEntries = std::vector<std::pair<std::string, pugi::xml_node>>;

/// The value of <plist> if it is a `kind` ("dict" or "array"); a null node otherwise.
pugi::xml_node PlistRoot(const pugi::xml_document& document, const char* kind);

/// The entries of a <dict>; nothing where keys and values do not alternate or a key comes twice.
std::optional<PlistEntries> Entries(const pugi::xml_node& dict);

/// The value of a key; a null node where absent.
pugi::xml_node ValueOf(const PlistEntries& entries, const std::string& key);

/// The text of a <string>; nothing for another kind.
std::optional<std::string> StringOf(const pugi::xml_node& value);

/// The number of an <integer> or <real>, finite and within +-1e6; nothing otherwise.
std::optional<double> NumberOf(const pugi::xml_node& value);

/// A decimal number that is the whole of `text` but for white space around it, finite and within
/// +-1e6. The same in every locale.
std::optional<double> ParseNumber(std::string_view text);

}  // namespace debossier::outline
