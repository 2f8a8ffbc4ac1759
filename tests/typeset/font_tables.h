// A font's own tables, read byte by byte as the OpenType specification lays them out: what a line
// set in the font is held against. Independent of HarfBuzz and of the code under test.
//
// Frame: font units.
// Not for: anything but unscaled horizontal metrics, and kerning of Latin letters.
#pragma once

#include <ft2build.h>

#include <bit>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include FT_FREETYPE_H
#include FT_BBOX_H
#include FT_TRUETYPE_TABLES_H

namespace debossier::typeset {

/// Big-endian bytes of one table; reading past the end throws.
class Table {
 public:
  explicit Table(std::vector<std::uint8_t> bytes = {}) : bytes_(std::move(bytes)) {}
  bool empty() const { return bytes_.empty(); }
  std::size_t size() const { return bytes_.size(); }
  unsigned U16(std::size_t at) const {
    return static_cast<unsigned>(bytes_.at(at)) << 8 | bytes_.at(at + 1);
  }
  int S16(std::size_t at) const { return static_cast<std::int16_t>(U16(at)); }
  std::size_t U32(std::size_t at) const {
    return static_cast<std::size_t>(U16(at)) << 16 | U16(at + 2);
  }

 private:
  std::vector<std::uint8_t> bytes_;
};

constexpr std::size_t Tag(const char (&tag)[5]) {
  return static_cast<std::size_t>(tag[0]) << 24 | static_cast<std::size_t>(tag[1]) << 16 |
         static_cast<std::size_t>(tag[2]) << 8 | static_cast<std::size_t>(tag[3]);
}

/// GPOS pair adjustment (OpenType, "GPOS", lookup type 2), the advance of the first glyph.
class PairKerning {
 public:
  explicit PairKerning(Table gpos) : t_(std::move(gpos)) {
    if (!t_.empty()) lookups_ = KernLookups();
  }
  bool empty() const { return lookups_.empty(); }

  int Between(unsigned left, unsigned right) const {
    int sum = 0;
    for (const std::size_t lookup : lookups_) sum += InLookup(lookup, left, right);
    return sum;
  }

 private:
  /// Offsets of the lookups of feature "kern" for the Latin script, default language.
  std::vector<std::size_t> KernLookups() const {
    const std::size_t scripts = t_.U16(4);
    const std::size_t features = t_.U16(6);
    const std::size_t lookups = t_.U16(8);
    std::size_t script = 0;
    for (unsigned i = 0; i < t_.U16(scripts); ++i) {
      const std::size_t record = scripts + 2 + 6 * i;
      const std::size_t tag = t_.U32(record);
      if (tag == Tag("latn") || (tag == Tag("DFLT") && script == 0)) {
        script = scripts + t_.U16(record + 4);
      }
    }
    if (script == 0 || t_.U16(script) == 0) return {};
    const std::size_t language = script + t_.U16(script);
    std::vector<std::size_t> found;
    for (unsigned i = 0; i < t_.U16(language + 4); ++i) {
      const std::size_t record = features + 2 + 6 * t_.U16(language + 6 + 2 * i);
      if (t_.U32(record) != Tag("kern")) continue;
      const std::size_t feature = features + t_.U16(record + 4);
      for (unsigned k = 0; k < t_.U16(feature + 2); ++k) {
        const unsigned idx = t_.U16(feature + 4 + 2 * k);
        found.push_back(lookups + t_.U16(lookups + 2 + 2 * idx));
      }
    }
    return found;
  }

  int InLookup(std::size_t lookup, unsigned left, unsigned right) const {
    for (unsigned i = 0; i < t_.U16(lookup + 4); ++i) {
      std::size_t sub = lookup + t_.U16(lookup + 6 + 2 * i);
      unsigned type = t_.U16(lookup);
      if (type == 9) {
        type = t_.U16(sub + 2);
        sub += t_.U32(sub + 4);
      }
      if (type != 2) continue;
      if (const auto value = InSubtable(sub, left, right)) return *value;
    }
    return 0;
  }

  /// Nothing where the subtable does not apply, so that the next one is asked.
  std::optional<int> InSubtable(std::size_t sub, unsigned left, unsigned right) const {
    const auto covered = CoverageIndex(sub + t_.U16(sub + 2), left);
    if (!covered) return std::nullopt;
    const unsigned format1 = t_.U16(sub + 4);
    const std::size_t size1 = 2 * std::popcount(format1);
    const std::size_t size2 = 2 * std::popcount(t_.U16(sub + 6));
    if (t_.U16(sub) == 1) {
      const std::size_t set = sub + t_.U16(sub + 10 + 2 * *covered);
      for (unsigned i = 0; i < t_.U16(set); ++i) {
        const std::size_t record = set + 2 + i * (2 + size1 + size2);
        if (t_.U16(record) == right) return Advance(record + 2, format1);
      }
      return std::nullopt;
    }
    const unsigned class1 = ClassOf(sub + t_.U16(sub + 8), left);
    const unsigned class2 = ClassOf(sub + t_.U16(sub + 10), right);
    return Advance(sub + 16 + (class1 * t_.U16(sub + 14) + class2) * (size1 + size2), format1);
  }

  int Advance(std::size_t value, unsigned format) const {
    return (format & 4u) != 0 ? t_.S16(value + 2 * std::popcount(format & 3u)) : 0;
  }

  std::optional<unsigned> CoverageIndex(std::size_t coverage, unsigned glyph) const {
    const bool list = t_.U16(coverage) == 1;
    for (unsigned i = 0; i < t_.U16(coverage + 2); ++i) {
      const std::size_t at = coverage + 4 + (list ? 2 : 6) * i;
      if (list && t_.U16(at) == glyph) return i;
      if (!list && t_.U16(at) <= glyph && glyph <= t_.U16(at + 2)) {
        return t_.U16(at + 4) + glyph - t_.U16(at);
      }
    }
    return std::nullopt;
  }

  unsigned ClassOf(std::size_t classes, unsigned glyph) const {
    if (t_.U16(classes) == 1) {
      const unsigned first = t_.U16(classes + 2);
      const bool inside = glyph >= first && glyph < first + t_.U16(classes + 4);
      return inside ? t_.U16(classes + 6 + 2 * (glyph - first)) : 0;
    }
    for (unsigned i = 0; i < t_.U16(classes + 2); ++i) {
      const std::size_t at = classes + 4 + 6 * i;
      if (t_.U16(at) <= glyph && glyph <= t_.U16(at + 2)) return t_.U16(at + 4);
    }
    return 0;
  }

  Table t_;
  std::vector<std::size_t> lookups_;
};

/// Extreme edges of a glyph; `top` is above the baseline.
struct Ink {
  double left = 0;
  double right = 0;
  double top = 0;
};

class FontTables {
 public:
  explicit FontTables(const std::filesystem::path& path) {
    if (FT_Init_FreeType(&library_) != 0 || FT_New_Face(library_, path.c_str(), 0, &face_) != 0) {
      throw std::runtime_error("cannot open " + path.string());
    }
    kerning_.emplace(Load(Tag("GPOS")));
    kern_ = Load(Tag("kern"));
  }
  ~FontTables() { FT_Done_FreeType(library_); }
  FontTables(const FontTables&) = delete;
  FontTables& operator=(const FontTables&) = delete;

  FT_Face face() const { return face_; }

  Table Load(std::size_t tag) const {
    FT_ULong length = 0;
    if (FT_Load_Sfnt_Table(face_, tag, 0, nullptr, &length) != 0) return Table();
    std::vector<std::uint8_t> bytes(length);
    FT_Load_Sfnt_Table(face_, tag, 0, bytes.data(), &length);
    return Table(std::move(bytes));
  }

  unsigned Glyph(char32_t code_point) const { return FT_Get_Char_Index(face_, code_point); }

  /// "hmtx" by way of "hhea".
  int Advance(unsigned glyph) const {
    const Table hmtx = Load(Tag("hmtx"));
    const unsigned count = Load(Tag("hhea")).U16(34);
    return static_cast<int>(hmtx.U16(4 * std::size_t{glyph < count ? glyph : count - 1}));
  }

  /// "OS/2" version 2 and up: sxHeight at 86, sCapHeight at 88; 0 before.
  int Os2(std::size_t at) const {
    const Table os2 = Load(Tag("OS/2"));
    return !os2.empty() && os2.U16(0) >= 2 ? os2.S16(at) : 0;
  }

  /// The glyph's ink by FreeType's own extrema.
  Ink InkOf(unsigned glyph) const {
    FT_BBox box{};
    FT_Load_Glyph(face_, glyph, FT_LOAD_NO_SCALE);
    FT_Outline_Get_BBox(&face_->glyph->outline, &box);
    return {static_cast<double>(box.xMin), static_cast<double>(box.xMax),
            static_cast<double>(box.yMax)};
  }

  /// GPOS, else the old "kern" table (version 0, format 0), as shapers go about it.
  int Kerning(unsigned left, unsigned right) const {
    if (!kerning_->empty()) return kerning_->Between(left, right);
    if (kern_.empty() || kern_.U16(0) != 0) return 0;
    for (unsigned i = 0; i < kern_.U16(10); ++i) {
      const std::size_t pair = 18 + 6 * i;
      if (kern_.U16(pair) == left && kern_.U16(pair + 2) == right) return kern_.S16(pair + 4);
    }
    return 0;
  }

 private:
  FT_Library library_ = nullptr;
  FT_Face face_ = nullptr;
  std::optional<PairKerning> kerning_;
  Table kern_;
};

}  // namespace debossier::typeset
