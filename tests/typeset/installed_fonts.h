// Fonts from Debian packages that the tests set lines in; a test skips those not installed.
#pragma once

#include <filesystem>

namespace debossier::typeset {

/// A Debian font: where it lies and what to install for it.
struct Installed {
  const char* name;
  const char* path;
  const char* package;
};

inline constexpr Installed kDejaVuSans{"DejaVuSans", "truetype/dejavu/DejaVuSans.ttf",
                                       "fonts-dejavu-core"};
inline constexpr Installed kOsifont{"osifont", "truetype/osifont/osifont.ttf", "fonts-osifont"};
inline constexpr Installed kDin{"OspDin", "truetype/opendin/OSP-DIN.ttf", "fonts-opendin"};
inline constexpr Installed kFonts[] = {
    kDejaVuSans,
    {"DejaVuSerif", "truetype/dejavu/DejaVuSerif.ttf", "fonts-dejavu-core"},
    {"LiberationSans", "truetype/liberation2/LiberationSans-Regular.ttf", "fonts-liberation2"},
    {"LiberationSerifItalic", "truetype/liberation2/LiberationSerif-Italic.ttf",
     "fonts-liberation2"},
    {"C059", "opentype/urw-base35/C059-Roman.otf", "fonts-urw-base35"},
    {"NimbusSans", "opentype/urw-base35/NimbusSans-Regular.otf", "fonts-urw-base35"},
    kOsifont,
    kDin,
};

inline std::filesystem::path PathOf(const Installed& font) {
  return std::filesystem::path("/usr/share/fonts") / font.path;
}

}  // namespace debossier::typeset
