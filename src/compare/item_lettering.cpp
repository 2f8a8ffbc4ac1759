#include "compare/item_lettering.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "outline/letter_class.h"

namespace debossier::compare {

namespace {

using outline::Box;
using outline::Element;
using outline::Point;

std::optional<double> FeatureOf(const refset::Item& item, const std::string& key) {
  const auto at = item.features.find(key);
  if (at == item.features.end()) return std::nullopt;
  return at->second.value;
}

outline::Affine Onto(const Box& from, const Box& to) {
  outline::Affine map;
  map.linear(0, 0) = from.width() > 0 ? to.width() / from.width() : 1;
  map.linear(1, 1) = from.height() > 0 ? to.height() / from.height() : 1;
  map.offset = to.min - map.linear * from.min;
  return map;
}

/// Boxes of one line's letters: widths and gaps one after the other, then the line as a whole moved
/// so that its middle lies where the item has the line.
std::map<std::string, Box> BoxesOfLine(const std::vector<const Element*>& letters,
                                       const outline::Line& line, const refset::Item& item) {
  const double reference = outline::NominalHeight(line);
  const auto ratio = FeatureOf(item, "line height " + line.id);
  const double size = ratio && reference > 0 ? *ratio / reference : 1;
  const double up = FeatureOf(item, "line place across " + line.id).value_or(0);
  std::map<std::string, Box> boxes;
  double x = outline::Bounds(letters.front()->outline).min.x();
  double off = 0;
  for (std::size_t i = 0; i < letters.size(); ++i) {
    const Box was = outline::Bounds(letters[i]->outline);
    if (i > 0) {
      const Box before = outline::Bounds(letters[i - 1]->outline);
      const auto gap =
          FeatureOf(item, fmt::format("gap {} {}", letters[i - 1]->id, letters[i]->id));
      x += gap.value_or(was.min.x() - before.max.x());
    }
    const auto width = FeatureOf(item, "letter width " + letters[i]->id);
    const auto height = FeatureOf(item, "letter height " + letters[i]->id);
    const double foot = FeatureOf(item, "baseline " + letters[i]->id).value_or(0);
    Box box;
    box.min = Point(x, was.min.y() + foot + up);
    box.max =
        box.min + Point(width.value_or(was.width()) * size, height.value_or(was.height()) * size);
    off += box.centre().x() - was.centre().x();
    x = box.max.x();
    boxes[letters[i]->id] = box;
  }
  const double along = FeatureOf(item, "line place along " + line.id).value_or(0);
  const double shift = along - off / static_cast<double>(letters.size());
  for (auto& [id, box] : boxes) {
    box.min.x() += shift;
    box.max.x() += shift;
  }
  return boxes;
}

}  // namespace

std::vector<Element> LetteringOfItem(const refset::RefSet& set, const refset::Item& item) {
  std::map<std::string, Box> boxes;
  double right = -1e300;
  for (std::size_t l = 0; l < set.lettering.lines.size(); ++l) {
    std::vector<const Element*> letters;
    for (const auto& e : set.lettering.elements) {
      const bool here = static_cast<std::size_t>(e.line_idx) == l;
      if (here && e.kind == outline::ElementKind::kLetter) letters.push_back(&e);
    }
    if (letters.empty()) continue;
    const auto line = BoxesOfLine(letters, set.lettering.lines[l], item);
    if (l == 0) {
      for (const auto& [id, box] : line) right = std::max(right, box.max.x());
    }
    boxes.insert(line.begin(), line.end());
  }
  std::vector<Element> shown;
  for (const auto& e : set.lettering.elements) {
    const Box was = outline::Bounds(e.outline);
    Box box;
    if (e.kind == outline::ElementKind::kMark) {
      const auto gap = FeatureOf(item, "mark gap mark");
      const auto size = FeatureOf(item, "mark size mark");
      const auto rise = FeatureOf(item, "mark rise mark");
      if (!gap || !size || !rise || was.height() <= 0) continue;
      box.min = Point(right + *gap, *rise);
      box.max = box.min + *size / was.height() * Point(was.width(), was.height());
    } else {
      if (!FeatureOf(item, "letter height " + e.id)) continue;
      box = boxes.at(e.id);
    }
    Element moved = e;
    moved.outline = outline::Transformed(e.outline, Onto(was, box));
    shown.push_back(std::move(moved));
  }
  return shown;
}

}  // namespace debossier::compare
