#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "base/unicode.h"
#include "layout/components.h"
#include "layout/row_cuts.h"
#include "measure/measure_photo.h"

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

std::string WithCase(const std::string& text, LineCase wanted) {
  std::string out;
  bool word_start = true;
  for (const auto& c : outline::Characters(text)) {
    const bool capital =
        wanted == LineCase::kCapitals || (wanted == LineCase::kTitle && word_start);
    out += capital ? ToCapital(c) : ToSmallLetter(c);
    word_start = IsSpace(c);
  }
  return out;
}

/// The line's surroundings drawn upright: foil where the coverage is over one half.
cv::Mat UprightRow(const outline::Lettering& reference, int line_idx,
                   const fit::PlaceReport& placed) {
  outline::Box box;
  for (const auto& e : reference.elements) {
    if (e.line_idx == line_idx && e.kind == outline::ElementKind::kLetter) {
      box.Add(outline::Bounds(e.outline));
    }
  }
  if (box.empty()) return {};
  const double height = std::max(0.1, box.height());
  const double scale = 40 / height;  // row pixels per cap height
  const double left = box.min.x() - 0.8 * height;
  const double top = box.max.y() + 0.25 * height;
  const cv::Size size(cvCeil((box.width() + 1.6 * height) * scale), cvCeil(1.6 * height * scale));
  const fit::EdgeReader reader(placed.coverage.alpha, placed.map_from_stamp);
  cv::Mat row(size, CV_8U);
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      const Point p(left + x / scale, top - y / scale);
      row.at<unsigned char>(y, x) = reader.CoverageAt(p, 0) > 0.5 ? 255 : 0;
    }
  }
  // Worn foil breaks hairlines; a small closing puts them together again.
  cv::morphologyEx(row, row, cv::MORPH_CLOSE, cv::Mat::ones(3, 3, CV_8U));
  // Only what stands in the line's own band: neighbours and rules are dropped.
  cv::Mat labels;
  layout::ComponentOptions options;
  options.min_area = 6;
  const double middle = size.height * (0.25 + 0.5) / 1.6;
  cv::Mat kept = cv::Mat::zeros(size, CV_8U);
  int first = size.height;
  int last = 0;
  for (const auto& c : layout::FindComponents(row, options, &labels)) {
    if (std::abs(c.centroid.y() - middle) > 26 || c.box.width > 0.6 * size.width) continue;
    kept.setTo(255, labels == c.label);
    if (c.box.height < 12) continue;
    first = std::min(first, c.box.y);
    last = std::max(last, c.box.y + c.box.height);
  }
  if (last - first < 12) return {};
  return kept.rowRange(first, last);
}

/// Reads a line again in the three cases; kCannotTell where no reading stands out.
LineCase ReadLineCase(const cv::Mat& row, const std::string& text) {
  if (row.empty()) return LineCase::kCannotTell;
  double best = 1e9;
  double second = 1e9;
  LineCase found = LineCase::kCannotTell;
  for (const auto wanted : {LineCase::kCapitals, LineCase::kTitle, LineCase::kSmall}) {
    const auto cuts = layout::CutRow(row, WithCase(text, wanted), "");
    if (cuts.cost < best) {
      second = best;
      best = cuts.cost;
      found = wanted;
    } else {
      second = std::min(second, cuts.cost);
    }
  }
  return best < 6 && second > best * 1.15 + 0.15 ? found : LineCase::kCannotTell;
}

LineCase CaseFromLetters(const std::vector<ElementMeasurement>& elements, int line_idx,
                         const std::string& text) {
  const auto characters = outline::Characters(text);
  int capitals = 0;
  int small = 0;
  int unknown = 0;
  bool title = true;
  for (const auto& e : elements) {
    if (e.line_idx != line_idx || e.is_mark || e.letter_case == LetterCase::kNone) continue;
    const std::size_t dot = e.id.rfind('.');
    const std::size_t index = dot == std::string::npos ? 0 : std::stoul(e.id.substr(dot + 1));
    const bool starts =
        index == 0 || (index <= characters.size() && IsSpace(characters[index - 1]));
    capitals += e.letter_case == LetterCase::kCapital;
    small += e.letter_case == LetterCase::kSmall;
    unknown += e.letter_case == LetterCase::kCannotTell;
    if (e.letter_case == LetterCase::kCapital && !starts) title = false;
    if (e.letter_case == LetterCase::kSmall && starts) title = false;
  }
  const int known = capitals + small;
  if (known == 0 || unknown > known) return LineCase::kCannotTell;
  if (small == 0) return LineCase::kCapitals;
  if (capitals == 0) return LineCase::kSmall;
  return title ? LineCase::kTitle : LineCase::kMixed;
}

/// Did the letter take the reference's shape and size?
bool FitsReference(const ElementMeasurement& e, double line_height) {
  if (e.in_place) return true;
  return e.found && e.shape.smooth_rms < 0.035 * line_height &&
         std::abs(e.relative_height.value - 1) < 0.13;
}

}  // namespace

void DecideCases(const outline::Lettering& reference, const fit::PlaceReport& placed,
                 Measurements& measured) {
  for (std::size_t l = 0; l < reference.lines.size(); ++l) {
    int letters = 0;
    int fitting = 0;
    bool telling = false;
    const outline::Line& drawn = reference.lines[l];
    const double height = drawn.cap_height > 0 ? drawn.cap_height
                          : drawn.x_height > 0 ? drawn.x_height / 0.7
                                               : 1;
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
      const auto read = ReadLineCase(UprightRow(reference, static_cast<int>(l), placed), line.text);
      if (read != LineCase::kCannotTell) {
        const auto shown = outline::Characters(WithCase(line.text, read));
        for (auto& e : measured.elements) {
          if (e.line_idx != static_cast<int>(l) || e.is_mark) continue;
          const std::size_t index = std::stoul(e.id.substr(e.id.rfind('.') + 1));
          if (index < shown.size()) e.found_as = shown[index];
          e.letter_case = CaseOf(e.found_as);
        }
      }
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
    line.line_case = CaseFromLetters(measured.elements, static_cast<int>(l), line.text);
  }
}

}  // namespace debossier::measure
