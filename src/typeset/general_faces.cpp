#include "typeset/general_faces.h"

#include "base/unicode.h"

namespace debossier::typeset {

namespace {

struct EmbeddedFace {
  const char* name;
  double cap_height;
  std::vector<float> numbers;  ///< As typeset/main/embed_faces.cpp writes them.
};

class FaceReader {
 public:
  explicit FaceReader(const EmbeddedFace& face) : face_(face) {}

  GeneralFace Read() {
    GeneralFace out;
    out.name = face_.name;
    while (next_ < face_.numbers.size()) {
      const auto code_point = static_cast<char32_t>(Number());
      GeneralGlyph glyph;
      glyph.advance = Number() / face_.cap_height;
      glyph.outline.contours.resize(Count());
      for (auto& contour : glyph.outline.contours) ReadContour(contour);
      out.glyphs[FromCodePoint(code_point)] = std::move(glyph);
    }
    return out;
  }

 private:
  double Number() { return face_.numbers.at(next_++); }
  std::size_t Count() { return static_cast<std::size_t>(Number()); }
  outline::Point ReadPoint() {
    const double x = Number();
    const double y = Number();
    return outline::Point(x, y) / face_.cap_height;
  }
  void ReadContour(outline::Contour& contour) {
    contour.start = ReadPoint();
    contour.segments.resize(Count());
    for (auto& segment : contour.segments) {
      segment.is_line = Number() != 0;
      if (!segment.is_line) {
        segment.control1 = ReadPoint();
        segment.control2 = ReadPoint();
      }
      segment.end = ReadPoint();
    }
  }

  const EmbeddedFace& face_;
  std::size_t next_ = 0;
};

}  // namespace

const GeneralGlyph* GeneralFace::Find(const std::string& character) const {
  auto found = glyphs.find(character);
  if (found == glyphs.end()) found = glyphs.find(BaseLetter(character));
  return found == glyphs.end() ? nullptr : &found->second;
}

const std::vector<GeneralFace>& GeneralFaces() {
  static const std::vector<GeneralFace> faces = [] {
    const std::vector<EmbeddedFace> embedded = {
#include "typeset/general_faces.inc"
    };
    std::vector<GeneralFace> out;
    for (const auto& face : embedded) out.push_back(FaceReader(face).Read());
    return out;
  }();
  return faces;
}

}  // namespace debossier::typeset
