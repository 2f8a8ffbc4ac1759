// Text and bytes in the forms that other formats want, through GLib.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "base/result.h"

namespace debossier {

/// Base64 (RFC 4648, section 4), with padding and without line ends.
std::string Base64(std::string_view bytes);

/// `text` with the characters escaped that XML and HTML would read, in content and in attributes;
/// control characters become references. @pre `text` is UTF-8.
std::string MarkupText(std::string_view text);

/// A day that exists, as YYYY-MM-DD (ISO 8601 calendar date), from 1900 on.
bool IsIsoDate(std::string_view text);

/// Keys and values of one group of a key file (UTF-8, "[group]", "key = value", "# comment"), in
/// the file's order. Refuses with kUsage, naming `where`, what is no key file, or a group that is
/// missing.
Result<std::vector<std::pair<std::string, std::string>>> KeyFileGroup(const std::string& text,
                                                                      const std::string& group,
                                                                      const std::string& where);

}  // namespace debossier
