#include "measure/features.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "outline/letter_class.h"

namespace debossier::measure {

namespace {

/// "E" where the line has one, "E (2nd)" where it has more.
std::map<std::string, std::string> Names(const outline::Lettering& reference) {
  std::map<std::string, std::string> names;
  std::map<std::string, int> total;
  std::map<std::string, int> seen;
  const auto key = [](const outline::Element& e) {
    return std::to_string(e.line_idx) + "/" + e.character;
  };
  for (const auto& e : reference.elements) ++total[key(e)];
  for (const auto& e : reference.elements) {
    const int which = ++seen[key(e)];
    if (total[key(e)] == 1) {
      names[e.id] = e.character;
    } else {
      const char* suffix = which == 1 ? "st" : which == 2 ? "nd" : which == 3 ? "rd" : "th";
      names[e.id] = fmt::format("{} ({}{})", e.character, which, suffix);
    }
  }
  return names;
}

class Collector {
 public:
  void Add(FeatureKind kind, std::string measure, std::vector<std::string> elements,
           std::string label, const Measured& value) {
    FeatureValue f;
    f.key = measure;
    for (const auto& e : elements) f.key += " " + e;
    f.kind = kind;
    f.measure = std::move(measure);
    f.elements = std::move(elements);
    f.label = std::move(label);
    f.value = value.value;
    f.u = value.u;
    features.push_back(std::move(f));
  }
  std::vector<FeatureValue> features;
};

void AddLetters(const outline::Lettering& reference, const Measurements& measured,
                const std::map<std::string, std::string>& names, Collector& out) {
  for (const auto& e : measured.elements) {
    if (!e.found || e.is_mark) continue;
    const std::string where = reference.lines.size() > 1
                                  ? fmt::format(" in \"{}\"", reference.lines[e.line_idx].text)
                                  : std::string();
    const std::string name = names.at(e.id) + where;
    // The height within its own line, so that a larger line is reported once, as a line.
    const double line_size = measured.lines[e.line_idx].relative_size.value;
    const double scale = line_size > 0 ? 1 / line_size : 1;
    out.Add(FeatureKind::kHeight, "letter height", {e.id}, "height of " + name,
            {e.height_ratio.value * scale, e.u_size.y()});
    out.Add(FeatureKind::kWidth, "letter width", {e.id}, "width of " + name,
            {e.width.value * scale, e.u_size.x()});
    const auto line_offset = measured.lines[e.line_idx].offset_y.value;
    out.Add(FeatureKind::kBase, "baseline", {e.id}, "foot of " + name,
            {e.base_offset.value - line_offset, e.base_offset.u});
  }
  for (const auto& e : measured.elements) {
    if (!e.found) continue;
    out.Add(FeatureKind::kShape, "letterform", {e.id},
            e.is_mark ? "form of the mark " + e.character : "form of " + names.at(e.id),
            {e.shape.smooth_rms, e.shape.u});
  }
}

}  // namespace

std::vector<FeatureValue> FeaturesOf(const outline::Lettering& reference,
                                     const Measurements& measured) {
  const auto names = Names(reference);
  Collector out;
  for (const auto& g : measured.gaps) {
    out.Add(FeatureKind::kGap, "gap", {g.left, g.right},
            fmt::format("gap {}–{}", names.at(g.left), names.at(g.right)), g.value);
  }
  if (measured.mark.found) {
    const std::string mark = "mark " + measured.mark.kind;
    if (measured.mark.gap.u > 0) {
      out.Add(FeatureKind::kMarkGap, "mark gap", {"mark"}, "gap to the " + mark, measured.mark.gap);
    }
    out.Add(FeatureKind::kMarkSize, "mark size", {"mark"}, "height of the " + mark,
            measured.mark.size);
    out.Add(FeatureKind::kMarkRise, "mark rise", {"mark"}, "foot of the " + mark,
            measured.mark.rise);
  }
  for (std::size_t l = 0; l < measured.lines.size(); ++l) {
    const auto& line = measured.lines[l];
    const std::string name = fmt::format("\"{}\"", line.text);
    if (line.relative_size.value <= 0) continue;
    if (l > 0) {
      out.Add(FeatureKind::kLineSize, "line height", {line.id}, "height of " + name,
              line.height_ratio);
      out.Add(FeatureKind::kLineOffset, "line place along", {line.id}, "sideways place of " + name,
              line.offset_x);
      out.Add(FeatureKind::kLineOffset, "line place across", {line.id},
              "distance of " + name + " from the wordmark", line.offset_y);
    }
    if (line.tracking.u > 0) {
      out.Add(FeatureKind::kTracking, "tracking", {line.id}, "tracking of " + name, line.tracking);
    }
  }
  if (measured.frame.kind != outline::FrameKind::kNone) {
    out.Add(FeatureKind::kFrame, "frame half width", {"frame"}, "half width of the frame",
            measured.frame.half_width);
    out.Add(FeatureKind::kFrame, "frame half height", {"frame"}, "half height of the frame",
            measured.frame.half_height);
    out.Add(FeatureKind::kFrame, "frame line weight", {"frame"}, "line weight of the frame",
            measured.frame.line_weight);
  }
  AddLetters(reference, measured, names, out);
  return out.features;
}

}  // namespace debossier::measure
