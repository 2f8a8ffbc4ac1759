#include "report/dimension.h"

#include <algorithm>
#include <cmath>

namespace debossier::report {

namespace {

constexpr double kArrow = 4.5;
constexpr double kArrowHalf = 1.4;
constexpr double kOvershoot = 2.5;  // of extension lines beyond the dimension line
constexpr double kGap = 1.5;        // between an edge and its extension line
constexpr double kOutside = 10;     // length of the line beyond arrows that point inwards
constexpr double kLine = 0.6;
constexpr TextStyle kWords{.size = 6.8, .bold = true};

/// Level dimensions as they are, upright ones with x and y exchanged.
Point Turned(const Point& p, bool upright) { return upright ? Point(p.y(), p.x()) : p; }

void AddArrow(Canvas& canvas, const Point& tip, double direction, bool upright) {
  const auto to = [&](const Point& p, auto add) {
    const Point at = Turned(p, upright);
    add(canvas.cr(), at.x(), at.y());
  };
  to(tip, cairo_move_to);
  to(tip + Point(-direction * kArrow, kArrowHalf), cairo_line_to);
  to(tip + Point(-direction * kArrow, -kArrowHalf), cairo_line_to);
  cairo_close_path(canvas.cr());
}

void AddLine(Canvas& canvas, const Point& from, const Point& to, bool upright) {
  const Point a = Turned(from, upright), b = Turned(to, upright);
  cairo_move_to(canvas.cr(), a.x(), a.y());
  cairo_line_to(canvas.cr(), b.x(), b.y());
}

/// Beside the middle of the line, moved into the panel.
void DrawWords(Canvas& canvas, const std::string& words, Point centre, const Rect& panel,
               const Colour& colour) {
  const double width = canvas.TextWidth(words, kWords) + 4;
  const double height = kWords.size + 2.5;
  const auto within = [](double v, double low, double high) {
    return low < high ? std::clamp(v, low, high) : 0.5 * (low + high);
  };
  centre.x() = within(centre.x(), panel.x + width / 2 + 1, panel.right() - width / 2 - 1);
  centre.y() = within(centre.y(), panel.y + height / 2 + 1, panel.bottom() - height / 2 - 1);
  canvas.Fill({centre.x() - width / 2, centre.y() - height / 2, width, height}, kWhite);
  TextStyle style = kWords;
  style.colour = colour;
  canvas.TextCentred(centre, words, style);
}

}  // namespace

void DrawDimension(Canvas& canvas, const Dimension& dimension, const Rect& panel,
                   const Colour& colour) {
  const bool upright = dimension.upright;
  Point from = Turned(dimension.from, upright);
  Point to = Turned(dimension.to, upright);
  if (from.x() > to.x()) std::swap(from, to);
  const double at = dimension.at;
  const double length = to.x() - from.x();
  const bool inside = length > 3 * kArrow;
  {
    const Clip clip(canvas, panel);
    for (const Point& edge : {from, to}) {
      const double side = at >= edge.y() ? 1 : -1;
      AddLine(canvas, edge + Point(0, side * kGap), Point(edge.x(), at + side * kOvershoot),
              upright);
    }
    const double beyond = inside ? 0 : kOutside;
    AddLine(canvas, {from.x() - beyond, at}, {to.x() + beyond, at}, upright);
    canvas.Stroke({colour, kLine, false, true});
    AddArrow(canvas, {from.x(), at}, inside ? -1 : 1, upright);
    AddArrow(canvas, {to.x(), at}, inside ? 1 : -1, upright);
    canvas.SetColour(colour);
    cairo_fill(canvas.cr());
  }
  if (dimension.words.empty()) return;
  const double words = canvas.TextWidth(dimension.words, kWords) + 4;
  Point centre = Turned({0.5 * (from.x() + to.x()), at}, upright);
  const double room = upright ? kWords.size + 4 : words + 2 * kArrow;
  if (length < room) {
    // Beside the line: past its end, or to the side of an upright one.
    centre += upright ? Point(words / 2 + 3, 0) : Point(0.5 * length + kOutside + words / 2 + 1, 0);
  }
  DrawWords(canvas, dimension.words, centre, panel, colour);
}

}  // namespace debossier::report
