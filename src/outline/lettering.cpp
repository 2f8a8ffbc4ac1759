#include "outline/lettering.h"

#include <cstdint>

namespace debossier::outline {

namespace {

/// The frame's middle line grown by `by` on every side.
Contour Rule(const Frame& frame, double by) {
  const Point radius = frame.radius + Point(by, by);
  if (frame.kind == FrameKind::kEllipse) return Ellipse(frame.centre, radius.x(), radius.y());
  return Rectangle({frame.centre - radius, frame.centre + radius});
}

/// Length in bytes of the well-formed UTF-8 sequence at `i` (Unicode 15, table 3-7); 0 where the
/// bytes are damaged, with `damaged` set to the length of the longest beginning of a sequence.
std::size_t SequenceLength(const std::string& text, std::size_t i, std::size_t& damaged) {
  const auto byte = [&](std::size_t at) -> unsigned {
    return at < text.size() ? static_cast<std::uint8_t>(text[at]) : 0u;
  };
  damaged = 1;
  const unsigned lead = byte(i);
  if (lead < 0x80) return 1;
  if (lead < 0xC2 || lead > 0xF4) return 0;
  const std::size_t length = lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : 4;
  // The second byte's range keeps out overlong forms, surrogates and values beyond U+10FFFF.
  const unsigned low = lead == 0xE0 ? 0xA0 : lead == 0xF0 ? 0x90 : 0x80;
  const unsigned high = lead == 0xED ? 0x9F : lead == 0xF4 ? 0x8F : 0xBF;
  if (byte(i + 1) < low || byte(i + 1) > high) return 0;
  for (damaged = 2; damaged < length; ++damaged) {
    if ((byte(i + damaged) & 0xC0u) != 0x80u) return 0;
  }
  return length;
}

}  // namespace

Outline FrameOutline(const Frame& frame) {
  Outline rule;
  if (frame.kind == FrameKind::kNone) return rule;
  const double half = 0.5 * frame.line_weight;
  rule.contours.push_back(Rule(frame, half));
  // A rule thicker than the frame is a solid shape.
  if (frame.radius.minCoeff() > half) rule.contours.push_back(Reversed(Rule(frame, -half)));
  return rule;
}

Box Bounds(const Lettering& lettering) {
  Box box;
  for (const Element& element : lettering.elements) box.Add(Bounds(element.outline));
  box.Add(Bounds(FrameOutline(lettering.frame)));
  return box;
}

std::vector<std::string> Characters(const std::string& text) {
  std::vector<std::string> characters;
  for (std::size_t i = 0; i < text.size();) {
    std::size_t damaged = 0;
    const std::size_t length = SequenceLength(text, i, damaged);
    characters.push_back(length > 0 ? text.substr(i, length) : "\xEF\xBF\xBD");
    i += length > 0 ? length : damaged;
  }
  return characters;
}

}  // namespace debossier::outline
