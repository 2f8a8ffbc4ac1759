// Writes the general faces of glyphs/ as numbers that typeset/general_faces.cpp includes: the
// program reads letters wherever it is installed, without files beside it.
#include <fmt/format.h>

#include <cstdio>
#include <string>

#include "outline/ufo.h"

namespace {

using debossier::outline::Point;

void Write(std::FILE* out, const Point& p) { fmt::print(out, "{:g},{:g},", p.x(), p.y()); }

/// For each glyph: code point, advance, number of contours; for each contour its start and number
/// of segments; for each segment 1 and its end, or 0 and its three points.
void WriteFace(std::FILE* out, const debossier::outline::UfoFont& font) {
  fmt::print(out, "{{\"{}\",{:g},{{", font.family_name, font.cap_height);
  for (const auto& glyph : font.glyphs) {
    for (const char32_t code_point : glyph.unicodes) {
      fmt::print(out, "\n{},{:g},{},", static_cast<unsigned>(code_point), glyph.advance,
                 glyph.outline.contours.size());
      for (const auto& contour : glyph.outline.contours) {
        Write(out, contour.start);
        fmt::print(out, "{},", contour.segments.size());
        for (const auto& segment : contour.segments) {
          fmt::print(out, "{},", segment.is_line ? 1 : 0);
          if (!segment.is_line) {
            Write(out, segment.control1);
            Write(out, segment.control2);
          }
          Write(out, segment.end);
        }
      }
    }
  }
  fmt::print(out, "}}}},\n");
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 3) {
    fmt::print(stderr, "usage: embed_faces OUTPUT UFO...\n");
    return 2;
  }
  std::FILE* out = std::fopen(argv[1], "w");
  if (out == nullptr) {
    fmt::print(stderr, "{} cannot be written\n", argv[1]);
    return 1;
  }
  for (int i = 2; i < argc; ++i) {
    const auto font = debossier::outline::LoadUfo(argv[i]);
    if (!font) {
      fmt::print(stderr, "{}\n", font.error().ToString());
      std::fclose(out);
      return 1;
    }
    WriteFace(out, *font);
  }
  return std::fclose(out) == 0 ? 0 : 1;
}
