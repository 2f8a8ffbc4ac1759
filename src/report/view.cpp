#include "report/view.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace debossier::report {
namespace {

constexpr double kMaxOnPage = 1e5;   // points; far outside any page, well inside Cairo's numbers
constexpr double kTellApart = 0.18;  // points; half the thinnest line drawn

// Turn that lays the stamp's x axis at the box's centre along the page's.
outline::Affine UprightTurn(const fit::Placement& placement, const Box& box) {
  const Point along = placement.JacobianAt(box.centre()).col(0);
  const double angle = std::atan2(along.y(), along.x());
  outline::Affine turn;
  turn.linear << std::cos(angle), std::sin(angle), -std::sin(angle), std::cos(angle);
  return turn;
}

// Bounds of the stamp box in turned photo pixels.
Box TurnedBounds(const fit::Placement& placement, const Box& box, const outline::Affine& turn) {
  Box turned;
  for (const double tx : {0.0, 0.5, 1.0}) {
    for (const double ty : {0.0, 0.5, 1.0}) {
      const Point stamp(box.min.x() + tx * box.width(), box.min.y() + ty * box.height());
      turned.Add(turn * placement.ToPhoto(stamp));
    }
  }
  return turned;
}

bool Drawable(const Box& turned) {
  const bool finite = std::isfinite(turned.min.x()) && std::isfinite(turned.min.y()) &&
                      std::isfinite(turned.max.x()) && std::isfinite(turned.max.y());
  return finite && turned.width() > 1e-3 && turned.height() > 1e-3 &&
         turned.min.cwiseAbs().maxCoeff() < 1e6 && turned.max.cwiseAbs().maxCoeff() < 1e6;
}

Point Held(const Point& p) {
  const auto hold = [](double v) {
    return std::isfinite(v) ? std::clamp(v, -kMaxOnPage, kMaxOnPage) : kMaxOnPage;
  };
  return {hold(p.x()), hold(p.y())};
}

double DistanceToChord(const Point& p, const Point& from, const Point& to) {
  const Point along = to - from;
  const double t =
      std::clamp((p - from).dot(along) / std::max(along.squaredNorm(), 1e-12), 0.0, 1.0);
  return (p - from - t * along).norm();
}

// Leaves out points that lie within `kTellApart` of the chord over them.
outline::Polyline Thinned(const outline::Polyline& points) {
  constexpr std::size_t kMostSkipped = 60;
  outline::Polyline kept = {points.front()};
  std::size_t anchor = 0;
  for (std::size_t i = 2; i < points.size(); ++i) {
    bool fits = i - anchor <= kMostSkipped;
    for (std::size_t k = anchor + 1; fits && k < i; ++k) {
      fits = DistanceToChord(points[k], points[anchor], points[i]) <= kTellApart;
    }
    if (fits) continue;
    anchor = i - 1;
    kept.push_back(points[anchor]);
  }
  kept.push_back(points.back());
  return kept;
}

}  // namespace

double AspectInView(const fit::Placement& placement, const Box& box) {
  if (box.empty()) return 0;
  const Box turned = TurnedBounds(placement, box, UprightTurn(placement, box));
  return Drawable(turned) ? turned.height() / turned.width() : 0;
}

View ViewOfStamp(const fit::Placement& placement, const Box& box, const Rect& panel,
                 double max_scale) {
  View view;
  view.panel = panel;
  if (box.empty()) return view;
  const outline::Affine turn = UprightTurn(placement, box);
  const Box turned = TurnedBounds(placement, box, turn);
  if (!Drawable(turned)) return view;
  const double px_per_cap_height = placement.ScaleAt(box.centre());
  const double scale = std::min({panel.width / turned.width(), panel.height / turned.height(),
                                 max_scale / px_per_cap_height});
  view.page_from_photo.linear = scale * turn.linear;
  view.page_from_photo.offset = panel.centre() - scale * turned.centre();
  view.placement = &placement;
  view.points_per_cap_height = scale * px_per_cap_height;
  return view;
}

View ViewOfPhoto(int width, int height, const Rect& panel) {
  View view;
  view.panel = panel;
  const double scale =
      std::min(panel.width / std::max(width, 1), panel.height / std::max(height, 1));
  view.page_from_photo.linear *= scale;
  view.page_from_photo.offset =
      panel.centre() - scale * Point((width - 1) / 2.0, (height - 1) / 2.0);
  return view;
}

void DrawPhoto(Canvas& canvas, const PhotoImage& photo, const View& view) {
  const Clip clip(canvas, view.panel);
  if (view.placement != nullptr) {
    photo.Draw(canvas.cr(), view.page_from_photo);
  } else {
    photo.DrawWhole(canvas.cr(), view.page_from_photo);
  }
}

void AddToPath(Canvas& canvas, const View& view, const outline::Outline& outline) {
  cairo_t* cr = canvas.cr();
  for (const outline::Contour& contour : outline.contours) {
    const Point start = Held(view.FromStamp(contour.start));
    cairo_move_to(cr, start.x(), start.y());
    for (const outline::Segment& segment : contour.segments) {
      const Point end = Held(view.FromStamp(segment.end));
      if (segment.is_line) {
        cairo_line_to(cr, end.x(), end.y());
      } else {
        // The map is close to affine within a glyph, so it may act on the control points.
        const Point c1 = Held(view.FromStamp(segment.control1));
        const Point c2 = Held(view.FromStamp(segment.control2));
        cairo_curve_to(cr, c1.x(), c1.y(), c2.x(), c2.y(), end.x(), end.y());
      }
    }
    cairo_close_path(cr);
  }
}

void AddToPath(Canvas& canvas, const View& view, const std::vector<outline::Polyline>& edges_px,
               double speck) {
  cairo_t* cr = canvas.cr();
  for (const outline::Polyline& edge : edges_px) {
    outline::Polyline on_page;
    Box bounds;
    for (const Point& p : edge) {
      on_page.push_back(Held(view.FromEdge(p)));
      bounds.Add(on_page.back());
    }
    if (on_page.size() < 3 || std::max(bounds.width(), bounds.height()) < speck) continue;
    const outline::Polyline thinned = Thinned(on_page);
    cairo_move_to(cr, thinned.front().x(), thinned.front().y());
    for (std::size_t i = 1; i < thinned.size(); ++i) {
      cairo_line_to(cr, thinned[i].x(), thinned[i].y());
    }
    cairo_close_path(cr);
  }
}

bool IsInView(const View& view, const Box& stamp_box) {
  if (view.placement == nullptr || stamp_box.empty()) return false;
  Box page;
  page.Add(view.FromStamp(stamp_box.min));
  page.Add(view.FromStamp(stamp_box.max));
  page.Add(view.FromStamp({stamp_box.min.x(), stamp_box.max.y()}));
  page.Add(view.FromStamp({stamp_box.max.x(), stamp_box.min.y()}));
  constexpr double kMargin = 10;  // points; line widths and a bent edge
  return page.max.x() > view.panel.x - kMargin && page.min.x() < view.panel.right() + kMargin &&
         page.max.y() > view.panel.y - kMargin && page.min.y() < view.panel.bottom() + kMargin;
}

void DrawScaleBar(Canvas& canvas, const View& view, const Point& corner,
                  const std::optional<card::Scale>& scale) {
  constexpr double kTick = 3, kPad = 5, kHeight = 13, kMostOfPanel = 0.3;
  const TextStyle style{.size = 7.5};
  double length = view.points_per_cap_height;
  std::string label = "1 cap height of the wordmark";
  if (length > kMostOfPanel * view.panel.width) {
    length /= 10;
    label = "10 % of the cap height";
  }
  if (scale && scale->is_known()) {
    const double points_per_mm = view.points_per_cap_height / scale->mm_per_cap_height.value;
    double mm = 0.1;
    for (const double longer : {0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0}) {
      if (longer * points_per_mm <= kMostOfPanel * view.panel.width) mm = longer;
    }
    length = mm * points_per_mm;
    label = fmt::format("{:g} mm", mm);
  }
  canvas.SetColour(kWhite, 0.85);
  cairo_rectangle(canvas.cr(), corner.x(), corner.y() - kHeight,
                  length + canvas.TextWidth(label, style) + 3 * kPad, kHeight);
  cairo_fill(canvas.cr());
  const Point at = corner + Point(kPad, -kHeight / 2);
  canvas.Line(at, at + Point(length, 0), kInk, 1.2);
  canvas.Line(at - Point(0, kTick), at + Point(0, kTick), kInk, 1.2);
  canvas.Line(at + Point(length, -kTick), at + Point(length, kTick), kInk, 1.2);
  canvas.TextCentred(at + Point(length + kPad, 0), label, style, Align::kLeft);
}

Box Grown(const Box& box, double margin) {
  Box grown = box;
  grown.min.array() -= margin;
  grown.max.array() += margin;
  return grown;
}

}  // namespace debossier::report
