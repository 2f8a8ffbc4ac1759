// A lettering: every element of a stamp at its place in the stamp frame.
//
// Frame ("stamp"): units are cap heights of the wordmark, y up, origin where the baseline of the
// wordmark meets the left edge of its first letter.
// Not for: photo pixels; fit::Placement maps between the two.
#pragma once

#include <string>
#include <vector>

#include "outline/outline.h"

namespace debossier::outline {

enum class ElementKind { kLetter, kMark };

/// One letter, or the small sign beside the wordmark, as the die has it (no stroke gain).
struct Element {
  /// "<line id>.<index>": the index of the code point in the line's text, spaces counted; "mark".
  std::string id;
  int line_idx = 0;
  ElementKind kind = ElementKind::kLetter;
  std::string character;  ///< One character, UTF-8.
  Outline outline;        ///< In the stamp frame.
};

/// One line of text. The first line of a lettering is the wordmark.
struct Line {
  std::string id;         ///< "wordmark", "origin", "line3"...
  std::string text;       ///< UTF-8, as stamped (case kept).
  double baseline = 0;    ///< y of the baseline, cap heights.
  double cap_height = 0;  ///< Height of this line's flat capitals; 0 where it has none.
  double x_height = 0;    ///< Height of this line's flat small letters; 0 where it has none.
};

enum class FrameKind { kNone, kEllipse, kRectangle };

/// A rule drawn around one line or the whole lettering.
struct Frame {
  FrameKind kind = FrameKind::kNone;
  Point centre = Point::Zero();
  Point radius = Point::Zero();  ///< Half axes (half width and half height) of the rule's middle.
  double line_weight = 0;        ///< Thickness of the rule.
  int line_idx = -1;             ///< The line it encloses; -1: all.
};

struct Lettering {
  std::vector<Line> lines;
  std::vector<Element> elements;  ///< In reading order; the mark, if any, last.
  Frame frame;
};

/// The two contours (outer, inner) of the frame's rule; empty for kNone.
Outline FrameOutline(const Frame& frame);

/// The box around all elements and the frame.
Box Bounds(const Lettering& lettering);

/// The code points of a UTF-8 text, each as UTF-8. Damaged bytes become U+FFFD.
std::vector<std::string> Characters(const std::string& text);

}  // namespace debossier::outline
