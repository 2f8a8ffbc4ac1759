#include "simulate/departures.h"

#include <algorithm>
#include <cmath>

namespace debossier::simulate {
namespace {

using outline::Affine;
using outline::Box;
using outline::Element;
using outline::ElementKind;
using outline::Lettering;
using outline::Outline;
using outline::Point;

Unexpected NoSuch(const std::string& what, const std::string& id) {
  return Refuse(ErrorCode::kUsage, "simulate", id, "the die has no " + what + " of that id",
                "letters are named LINE.INDEX, for example wordmark.1");
}

int ElementIndex(const Lettering& die, const std::string& id) {
  for (std::size_t k = 0; k < die.elements.size(); ++k) {
    if (die.elements[k].id == id) return static_cast<int>(k);
  }
  return -1;
}

int LineIndex(const Lettering& die, const std::string& id) {
  for (std::size_t k = 0; k < die.lines.size(); ++k) {
    if (die.lines[k].id == id) return static_cast<int>(k);
  }
  return -1;
}

void Move(Element& element, double dx) {
  element.outline =
      outline::Transformed(element.outline, Affine{Eigen::Matrix2d::Identity(), Point(dx, 0)});
}

/// Scales about `fixed`, along both axes.
Outline Scaled(const Outline& outline, double factor, const Point& fixed) {
  return outline::Transformed(outline,
                              Affine{factor * Eigen::Matrix2d::Identity(), (1 - factor) * fixed});
}

bool MovesWithLine(const Element& element, int line_idx) {
  return element.kind == ElementKind::kMark ? line_idx == 0 : element.line_idx == line_idx;
}

Box LineBox(const Lettering& die, int line_idx) {
  Box box;
  for (const Element& element : die.elements) {
    const bool takes_part =
        line_idx < 0 || (element.kind == ElementKind::kLetter && element.line_idx == line_idx);
    if (takes_part) box.Add(outline::Bounds(element.outline));
  }
  return box;
}

/// Offsets a closed polygon along the bisectors of its corners; the outside is to the right.
outline::Polyline OffsetPolygon(const outline::Polyline& polygon, double amount) {
  outline::Polyline moved;
  const std::size_t count = polygon.size();
  for (std::size_t k = 0; k < count; ++k) {
    const Point in = (polygon[k] - polygon[(k + count - 1) % count]).normalized();
    const Point out = (polygon[(k + 1) % count] - polygon[k]).normalized();
    const Point normal_in(in.y(), -in.x());
    const Point normal_out(out.y(), -out.x());
    // The corner of the two moved edges; very sharp corners are cut at twice the amount.
    const double denominator = 1 + normal_in.dot(normal_out);
    const Point corner = denominator > 0.25 ? Point((normal_in + normal_out) / denominator)
                                            : Point(2 * (normal_in + normal_out).normalized());
    moved.push_back(polygon[k] + amount * (corner.allFinite() ? corner : normal_in));
  }
  return moved;
}

Outline Thickened(const Outline& outline, double amount) {
  Outline thick;
  for (const outline::Polyline& polygon :
       outline::Flatten(outline::WithStandardDirection(outline), 2e-4)) {
    outline::Polyline distinct;
    for (const Point& p : polygon) {
      if (distinct.empty() || (p - distinct.back()).norm() > 1e-9) distinct.push_back(p);
    }
    while (distinct.size() > 1 && (distinct.front() - distinct.back()).norm() < 1e-9) {
      distinct.pop_back();
    }
    if (distinct.size() >= 3) {
      thick.contours.push_back(outline::FromPolyline(OffsetPolygon(distinct, amount)));
    }
  }
  return thick;
}

}  // namespace

Lettering WithMarkGap(const Lettering& die, double amount) {
  Lettering changed = die;
  for (Element& element : changed.elements) {
    if (element.kind == ElementKind::kMark) Move(element, amount);
  }
  return changed;
}

Lettering WithMarkSize(const Lettering& die, double share) {
  Lettering changed = die;
  for (Element& element : changed.elements) {
    if (element.kind != ElementKind::kMark || element.outline.empty()) continue;
    element.outline = Scaled(element.outline, 1 + share, outline::Bounds(element.outline).min);
  }
  return changed;
}

Result<Lettering> WithPairGap(const Lettering& die, const std::string& left_id, double amount) {
  const int left = ElementIndex(die, left_id);
  if (left < 0) return NoSuch("letter", left_id);
  Lettering changed = die;
  const int line_idx = die.elements[left].line_idx;
  for (std::size_t k = left + 1; k < changed.elements.size(); ++k) {
    if (MovesWithLine(changed.elements[k], line_idx)) Move(changed.elements[k], amount);
  }
  return changed;
}

Result<Lettering> WithTracking(const Lettering& die, const std::string& line_id, double amount) {
  const int line_idx = LineIndex(die, line_id);
  if (line_idx < 0) return NoSuch("line", line_id);
  Lettering changed = die;
  double shift = 0;
  double last_shift = 0;
  for (Element& element : changed.elements) {
    if (!MovesWithLine(element, line_idx)) continue;
    // The mark keeps its gap to the last letter.
    Move(element, element.kind == ElementKind::kMark ? last_shift : shift);
    last_shift = shift;
    shift += amount;
  }
  return changed;
}

Result<Lettering> WithLetterSize(const Lettering& die, const std::string& id, double share) {
  const int at = ElementIndex(die, id);
  if (at < 0 || die.elements[at].outline.empty()) return NoSuch("letter", id);
  Lettering changed = die;
  Element& element = changed.elements[at];
  const double baseline = die.lines.empty() ? 0 : die.lines[element.line_idx].baseline;
  const Point fixed(outline::Bounds(element.outline).centre().x(), baseline);
  element.outline = Scaled(element.outline, 1 + share, fixed);
  return changed;
}

Result<Lettering> WithLineSize(const Lettering& die, const std::string& line_id, double share) {
  const int line_idx = LineIndex(die, line_id);
  if (line_idx < 0) return NoSuch("line", line_id);
  Lettering changed = die;
  outline::Line& line = changed.lines[line_idx];
  const Point fixed(LineBox(die, line_idx).centre().x(), line.baseline);
  for (Element& element : changed.elements) {
    if (element.kind == ElementKind::kLetter && element.line_idx == line_idx) {
      element.outline = Scaled(element.outline, 1 + share, fixed);
    }
  }
  line.cap_height *= 1 + share;
  line.x_height *= 1 + share;
  return changed;
}

Result<Lettering> WithStrokeWeight(const Lettering& die, const std::string& id, double amount) {
  if (!id.empty() && ElementIndex(die, id) < 0) return NoSuch("letter", id);
  Lettering changed = die;
  for (Element& element : changed.elements) {
    if (id.empty() || element.id == id) element.outline = Thickened(element.outline, amount);
  }
  return changed;
}

Result<Lettering> WithLetterOf(const Lettering& die, const Lettering& other,
                               const std::string& id) {
  const int here = ElementIndex(die, id);
  const int there = ElementIndex(other, id);
  if (here < 0 || there < 0 || other.elements[there].outline.empty()) return NoSuch("letter", id);
  Lettering changed = die;
  const double dx = outline::Bounds(die.elements[here].outline).centre().x() -
                    outline::Bounds(other.elements[there].outline).centre().x();
  changed.elements[here].outline = other.elements[there].outline;
  Move(changed.elements[here], dx);
  return changed;
}

Result<Lettering> WithText(const Lettering& die, const std::string& line_id,
                           const std::string& text, const LayOutAgain& again) {
  const int line_idx = LineIndex(die, line_id);
  if (line_idx < 0) return NoSuch("line", line_id);
  if (!again) {
    return Refuse(ErrorCode::kUsage, "simulate", line_id, "there is nothing to set the text with",
                  "give the font or alphabet the die was made from");
  }
  std::vector<std::string> texts;
  for (const outline::Line& line : die.lines) texts.push_back(line.text);
  texts[line_idx] = text;
  return again(texts);
}

Lettering WithFrame(const Lettering& die, outline::FrameKind kind, int line_idx, double clearance,
                    double line_weight) {
  Lettering changed = die;
  changed.frame = {};
  const Box box = LineBox(die, line_idx);
  if (kind == outline::FrameKind::kNone || box.empty()) return changed;
  const Point half = 0.5 * Point(box.width(), box.height());
  changed.frame.kind = kind;
  changed.frame.line_idx = line_idx;
  changed.frame.centre = box.centre();
  changed.frame.line_weight = line_weight;
  changed.frame.radius = half + Point(clearance, clearance);
  if (kind == outline::FrameKind::kEllipse) {
    // The flattest ellipse whose top keeps `clearance` and that passes outside the box's corners.
    const double tall = half.y() + 1.8 * clearance;
    const double at_corner = std::sqrt(1 - std::pow((half.y() + 0.25 * clearance) / tall, 2));
    changed.frame.radius = Point((half.x() + 0.5 * clearance) / at_corner, tall);
  }
  return changed;
}

}  // namespace debossier::simulate
