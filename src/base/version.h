#pragma once
namespace debossier {
/// The program's version, as written into every result.
inline constexpr const char* kVersion = DEBOSSIER_VERSION;
}  // namespace debossier
