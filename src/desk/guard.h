// Who may speak to the desk: only pages that this program has opened, on this machine.
//
// A page of another host cannot read answers of this one (same-origin policy), but it can send
// requests, and a name of its own can be made to mean 127.0.0.1 (DNS rebinding). So the Host header
// must name the loopback, every change must come from the desk's own page (Origin), and every
// request but the first carries a secret cookie that only the printed address gives.
// Not for: keeping out other users' programs that may read this user's memory or terminal.
#pragma once

#include <string>
#include <string_view>

#include "base/result.h"

namespace debossier::desk {

/// 64 hexadecimal figures from the system's random source. Refuses with kInternal where there is
/// none.
Result<std::string> RandomSecret();

/// True for equal texts, in a time that depends on the length alone.
bool SameSecret(std::string_view a, std::string_view b);

/// "127.0.0.1:8123", "localhost:8123" or "[::1]:8123", for this port.
bool IsLoopbackHost(std::string_view host, int port);

/// The same after "http://".
bool IsOwnOrigin(std::string_view origin, int port);

/// The value of a cookie in a Cookie header (RFC 6265, 4.2); empty where it is not there.
std::string CookieNamed(std::string_view name, std::string_view header);

}  // namespace debossier::desk
