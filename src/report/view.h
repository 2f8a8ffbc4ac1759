// A part of the photo on the page, turned so that the lettering reads upright, and the drawing of
// outlines over it.
//
// Frames: stamp (cap heights, y up) and photo (pixels, y down) to page (points, y down). Only a
// turn, one scale and a shift lead from photo to page: the photo is shown as it is.
// Not for: measuring; distances on the page are for the eye.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compare/comparison.h"
#include "drawing/canvas.h"
#include "drawing/photo_image.h"

namespace debossier::report {

using outline::Box;

struct View {
  Rect panel;
  outline::Affine page_from_photo;
  const fit::Placement* placement = nullptr;  ///< Null where no lettering was found.
  /// In a straightened picture: where the lettering lies in the photo that edges were traced in.
  const fit::Placement* edges_from = nullptr;
  double points_per_cap_height = 0;

  Point FromPhoto(const Point& photo) const { return page_from_photo * photo; }
  Point FromStamp(const Point& stamp) const { return FromPhoto(placement->ToPhoto(stamp)); }
  Point FromEdge(const Point& photo) const {
    return edges_from == nullptr ? FromPhoto(photo) : FromStamp(edges_from->ToStamp(photo));
  }
};

/// Height over width of `box` of the stamp as the upright view shows it; 0 where the placement
/// cannot be drawn.
double AspectInView(const fit::Placement& placement, const Box& box);

/// Shows `box` of the stamp in the panel, as large as fits but at most `max_scale` points per cap
/// height. The view has no placement where it cannot be drawn.
View ViewOfStamp(const fit::Placement& placement, const Box& box, const Rect& panel,
                 double max_scale = 1e6);

/// Shows the whole photo of that size in the panel, as large as fits, without a turn.
View ViewOfPhoto(int width, int height, const Rect& panel);

/// Draws the photo within the view's panel.
void DrawPhoto(Canvas& canvas, const PhotoImage& photo, const View& view);

/// Adds an outline of the stamp frame to the current path.
void AddToPath(Canvas& canvas, const View& view, const outline::Outline& outline);
/// Adds closed polylines of the photo to the current path, without points that the eye cannot tell
/// on the page and without patches smaller than `speck` points.
void AddToPath(Canvas& canvas, const View& view, const std::vector<outline::Polyline>& edges_px,
               double speck = 1.5);

/// True where some of `stamp_box` may show in the view's panel.
bool IsInView(const View& view, const Box& stamp_box);

/// A bar one cap height of the wordmark long (or a tenth where that is too long) with its label, on
/// light ground, its lower left corner at `corner`. Where `scale` knows them, a round number of
/// millimetres instead.
void DrawScaleBar(Canvas& canvas, const View& view, const Point& corner,
                  const std::optional<card::Scale>& scale = std::nullopt);

/// `box` larger by `margin` on each side.
Box Grown(const Box& box, double margin);

}  // namespace debossier::report
