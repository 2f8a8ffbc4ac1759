// Base64 (RFC 4648, section 4), with padding and without line ends.
#pragma once

#include <string>
#include <string_view>

namespace debossier {

std::string Base64(std::string_view bytes);

}  // namespace debossier
