#include <algorithm>
#include <cmath>

#include "base/unicode.h"
#include "fit/line_band.h"
#include "measure/measure_photo.h"
#include "outline/letter_class.h"
#include "reading/line_reading.h"

namespace debossier::measure {

namespace {

/// Letters whose two cases differ in size alone.
bool SameShapeInBothCases(const std::string& character) {
  const std::string base = ToSmallLetter(BaseLetter(character));
  return base.size() == 1 && std::string("cosvwxz").find(base[0]) != std::string::npos;
}

LetterCase CaseOf(const std::string& character) {
  if (IsCapital(character)) return LetterCase::kCapital;
  if (IsSmallLetter(character)) return LetterCase::kSmall;
  return LetterCase::kNone;
}

/// Did the letter take the reference's shape and size? Where another letter stands, the outline
/// finds some edges to lie on, but half of its strokes have no foil.
bool FitsReference(const ElementMeasurement& e, double line_height) {
  constexpr double kMostMissing = 0.4;
  return e.found && e.shape.smooth_rms < 0.035 * line_height && e.shape.missing < kMostMissing &&
         std::abs(e.relative_height.value - 1) < 0.13 &&
         std::abs(e.relative_width.value - 1) < 0.25;
}

/// The line's letters as they were read. They are not the reference's letters moved or misshapen:
/// nothing is measured of them, but in the wordmark, which is the unit of all.
void TakeAsRead(const fit::PlacedBand& band, const reading::CaseReading& reading, int line_idx,
                Measurements& measured) {
  const auto shown = outline::Characters(
      outline::InCase(measured.lines[static_cast<std::size_t>(line_idx)].text, reading.line_case));
  const auto letters = fit::LettersAsRead(band, reading.fit);
  // Read in its own case, a worn line's letters are where they were found.
  const bool other = reading.line_case !=
                     outline::CaseOfText(measured.lines[static_cast<std::size_t>(line_idx)].text);
  for (auto& e : measured.elements) {
    if (e.line_idx != line_idx || e.is_mark) continue;
    const std::size_t index = std::stoul(e.id.substr(e.id.rfind('.') + 1));
    if (index >= shown.size()) continue;
    e.found_as = shown[index];
    e.letter_case = CaseOf(e.found_as);
    if (!other || index >= letters.size() || letters[index].empty()) continue;
    // An initial that is a capital in both keeps its place in the wordmark alone.
    if (line_idx == 0 && e.found && e.found_as == e.character) continue;
    e.read = true;
    e.outline = letters[index];
    e.in_place = false;
    if (line_idx > 0) e.found = false;
  }
}

}  // namespace

void DecideCases(const outline::Lettering& reference, const fit::PlaceReport& placed,
                 Measurements& measured) {
  const outline::Frame frame =
      reference.frame.kind != outline::FrameKind::kNone ? reference.frame : measured.frame.found;
  for (std::size_t l = 0; l < reference.lines.size(); ++l) {
    int letters = 0;
    int fitting = 0;
    bool telling = false;
    const outline::Line& drawn = reference.lines[l];
    const double nominal = outline::NominalHeight(drawn);
    const double height = nominal > 0 ? nominal : 1;
    for (auto& e : measured.elements) {
      if (e.line_idx != static_cast<int>(l)) continue;
      e.letter_case = CaseOf(e.character);
      if (e.is_mark || e.letter_case == LetterCase::kNone) continue;
      ++letters;
      const bool fits = FitsReference(e, height);
      fitting += fits;
      telling |= fits && !SameShapeInBothCases(e.character);
      if (!fits) e.letter_case = LetterCase::kCannotTell;
    }
    LineMeasurement& line = measured.lines[l];
    if (10 * fitting < 7 * letters) {
      const fit::PlacedBand band = fit::BandAround(reference, static_cast<int>(l), frame, placed);
      const auto reading = reading::ReadCase(band.band, line.text);
      const LineCase read = reading.line_case;
      if (read != LineCase::kCannotTell) TakeAsRead(band, reading, static_cast<int>(l), measured);
      line.line_case = read;
      continue;
    }
    // Letters like c o s v w x z alone do not tell: their height needs a neighbour to compare with.
    if (!telling) {
      for (auto& e : measured.elements) {
        if (e.line_idx == static_cast<int>(l) && !e.is_mark && SameShapeInBothCases(e.character)) {
          e.letter_case = LetterCase::kCannotTell;
        }
      }
    }
    // Letters that fit have the reference's case, and most do.
    if (telling) line.line_case = outline::CaseOfText(line.text);
  }
}

}  // namespace debossier::measure
