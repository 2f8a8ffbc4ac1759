#include "fit/outer_form.h"

#include <algorithm>
#include <array>
#include <string_view>

namespace debossier::fit {

namespace {

bool IsCircled(const std::string& character) {
  constexpr std::array<std::string_view, 3> kCircled = {"®", "©", "℗"};
  return std::find(kCircled.begin(), kCircled.end(), character) != kCircled.end();
}

}  // namespace

outline::Outline OuterForm(const outline::Element& element) {
  if (element.kind != outline::ElementKind::kMark || element.outline.empty()) {
    return element.outline;
  }
  outline::Outline form;
  if (IsCircled(element.character)) {
    const outline::Box box = outline::Bounds(element.outline);
    form.contours.push_back(outline::Ellipse(box.centre(), 0.5 * box.width(), 0.5 * box.height()));
    return form;
  }
  const auto polygons = outline::Flatten(element.outline, 0.01);
  for (std::size_t i = 0; i < polygons.size(); ++i) {
    bool inside = false;
    for (std::size_t j = 0; j < polygons.size() && !inside; ++j) {
      inside = j != i && !polygons[i].empty() && outline::Contains({polygons[j]}, polygons[i][0]);
    }
    if (!inside) form.contours.push_back(element.outline.contours[i]);
  }
  return form;
}

outline::Box BoxOfReach(const outline::Lettering& lettering) {
  outline::Box reach;
  for (const auto& element : lettering.elements) {
    if (element.kind != outline::ElementKind::kMark || element.outline.empty()) continue;
    reach = outline::Bounds(element.outline);
    reach.min -= outline::Point(MarkReach::kLeft, MarkReach::kBeside);
    reach.max += outline::Point(MarkReach::kRight, MarkReach::kBeside);
  }
  return reach;
}

}  // namespace debossier::fit
