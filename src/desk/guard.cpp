#include "desk/guard.h"

#include <fmt/format.h>
#include <sys/random.h>

#include <array>

namespace debossier::desk {

Result<std::string> RandomSecret() {
  std::array<unsigned char, 32> bytes{};
  if (::getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size())) {
    return Refuse(ErrorCode::kInternal, "desk", "", "the system gave no random numbers",
                  "try again");
  }
  std::string secret;
  for (const unsigned char b : bytes) secret += fmt::format("{:02x}", b);
  return secret;
}

bool SameSecret(std::string_view a, std::string_view b) {
  if (a.size() != b.size() || a.empty()) return false;
  unsigned char differs = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    differs = static_cast<unsigned char>(differs | (a[i] ^ b[i]));
  }
  return differs == 0;
}

bool IsLoopbackHost(std::string_view host, int port) {
  for (const char* name : {"127.0.0.1", "localhost", "[::1]"}) {
    if (host == fmt::format("{}:{}", name, port)) return true;
  }
  return false;
}

bool IsOwnOrigin(std::string_view origin, int port) {
  constexpr std::string_view kScheme = "http://";
  return origin.starts_with(kScheme) && IsLoopbackHost(origin.substr(kScheme.size()), port);
}

std::string CookieNamed(std::string_view name, std::string_view header) {
  while (!header.empty()) {
    const auto end = std::min(header.find(';'), header.size());
    std::string_view pair = header.substr(0, end);
    header.remove_prefix(std::min(end + 1, header.size()));
    while (pair.starts_with(' ')) pair.remove_prefix(1);
    const auto equals = pair.find('=');
    if (equals != std::string_view::npos && pair.substr(0, equals) == name) {
      return std::string(pair.substr(equals + 1));
    }
  }
  return "";
}

}  // namespace debossier::desk
