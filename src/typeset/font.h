// Text set in a font: HarfBuzz lays it out with the font's kerning, FreeType gives the outlines.
//
// Frame of what comes out: units of the wanted height (cap heights of the line), y up, origin at
// the left ink edge of the first letter on the baseline.
// Not for: running text in reports (Pango), right-to-left or multi-font lines.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "base/result.h"
#include "outline/lettering.h"

namespace debossier::typeset {

/// One placed character of a line.
struct PlacedGlyph {
  int index = 0;             ///< Index of the code point in the text (spaces counted).
  std::string character;     ///< UTF-8.
  outline::Outline outline;  ///< Placed.
  double advance = 0;        ///< Advance with kerning.
};

/// An outline font in memory. Movable, not copyable. Threads may share it.
class Font {
 public:
  /// Loads a TrueType or OpenType font file (at most 64 MiB). Refuses with kFileMissing, kOverLimit
  /// or kSetUnreadable. A variable font is taken at its default instance.
  static Result<Font> Load(const std::filesystem::path& path, int face_idx = 0);
  Font(Font&&) noexcept;
  Font& operator=(Font&&) noexcept;
  ~Font();

  /// Height of the flat capital H, and of the flat small x, in units of the em, from the outlines;
  /// 0 where the font lacks the letter.
  double cap_height() const;
  double x_height() const;
  /// The OS/2 table's sCapHeight and sxHeight in units of the em; 0 where absent.
  double os2_cap_height() const;
  double os2_x_height() const;
  std::string family_name() const;
  bool Has(char32_t code_point) const;

  /// Sets one line; lengths in cap heights of this font. Ligatures are off. Characters that leave
  /// no ink (spaces) take their room but are not in the result. Refuses with kTextNotCovered,
  /// naming the characters that are missing, also where the font has no cap height (neither an H
  /// nor one in OS/2). `tracking` (cap heights) is added after each character.
  Result<std::vector<PlacedGlyph>> SetLine(const std::string& text, double tracking = 0) const;

 private:
  struct Impl;
  explicit Font(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

/// What a lettering made from fonts should look like; lengths in cap heights of the wordmark.
struct LineSpec {
  std::string id;  ///< "wordmark", "origin", ...
  std::string text;
  double height = 1;    ///< Cap height of the line.
  double tracking = 0;  ///< Added after each character, in this line's cap heights.
  double baseline = 0;  ///< y of the baseline.
};
struct MarkSpec {
  std::string character;  ///< "®", "©" or "™"; empty for none.
  double size = 0.35;     ///< Height of the mark.
  double gap = 0.15;      ///< From the last letter's right edge to the mark's left edge.
  double rise = 0.65;     ///< From the wordmark's baseline to the mark's lower edge.
};

/// Lays out a lettering: the lines centred under each other, the mark beside the first line,
/// the frame as given. All lines use `font`, or `origin_font` where given for lines after the
/// first.
Result<outline::Lettering> LayOut(const Font& font, const Font* origin_font,
                                  const std::vector<LineSpec>& lines, const MarkSpec& mark,
                                  const outline::Frame& frame);

}  // namespace debossier::typeset
