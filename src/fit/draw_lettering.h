// Draws outlines as the share of each pixel that they cover.
//
// Frame: outlines in the stamp frame, drawn through a placement into map pixels.
// Not for: blur and light; see render_reference.h.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "fit/fit_element.h"
#include "fit/placement.h"
#include "outline/lettering.h"

namespace debossier::fit {

/// Adds the outline, moved and with every edge `gain` further out (cap heights), to `coverage`
/// (CV_32F); sharp corners are cut off at twice the gain.
void DrawOutline(const outline::Outline& outline, const outline::Affine& move, double gain,
                 const Placement& map_from_stamp, cv::Mat& coverage);

/// Area coverage (CV_32F) of the lettering and its frame, without blur: every found element at its
/// fit, own gain included, the others in their usual places; without the element `except`.
cv::Mat DrawLettering(const outline::Lettering& lettering, const std::vector<ElementFit>& elements,
                      const Placement& map_from_stamp, const cv::Size& size,
                      std::optional<std::size_t> except = std::nullopt);

/// Box of the moved outline under the placement, in map pixels; empty where the outline is.
outline::Box PlacedBox(const outline::Outline& outline, const outline::Affine& move,
                       const Placement& placement);

/// The box and `margin` about it, in whole pixels, within a map of `size`.
cv::Rect RectAround(const outline::Box& box, double margin, const cv::Size& size);

/// The placement in the frame of the part of the map that begins at `corner`.
Placement SeenFrom(const cv::Point& corner, Placement map_from_stamp);

}  // namespace debossier::fit
