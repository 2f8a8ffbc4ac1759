// Text and bytes in the forms that other formats want, through GLib.
#pragma once

#include <string>
#include <string_view>

namespace debossier {

/// Base64 (RFC 4648, section 4), with padding and without line ends.
std::string Base64(std::string_view bytes);

/// `text` with the characters escaped that XML and HTML would read, in content and in attributes;
/// control characters become references. @pre `text` is UTF-8.
std::string MarkupText(std::string_view text);

}  // namespace debossier
