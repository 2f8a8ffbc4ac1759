#include "measure/features.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>
#include <optional>

#include "outline/letter_class.h"

namespace debossier::measure {

std::map<std::string, std::string> NamesOf(const outline::Lettering& reference) {
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

namespace {

/// A measure's name in keys and reports, and the words around the names of what it is about.
struct Measure {
  const char* name;
  FeatureKind kind;
};
constexpr std::array<Measure, 15> kMeasures = {{
    {"gap", FeatureKind::kGap},
    {"mark gap", FeatureKind::kMarkGap},
    {"mark size", FeatureKind::kMarkSize},
    {"mark rise", FeatureKind::kMarkRise},
    {"line height", FeatureKind::kLineSize},
    {"line place along", FeatureKind::kLineOffset},
    {"line place across", FeatureKind::kLineOffset},
    {"tracking", FeatureKind::kTracking},
    {"frame half width", FeatureKind::kFrame},
    {"frame half height", FeatureKind::kFrame},
    {"frame line weight", FeatureKind::kFrame},
    {"letter height", FeatureKind::kHeight},
    {"letter width", FeatureKind::kWidth},
    {"baseline", FeatureKind::kBase},
    {"letterform", FeatureKind::kShape},
}};

/// Makes features of one lettering, each with its kind and its label for people.
class Describer {
 public:
  explicit Describer(const outline::Lettering& reference)
      : reference_(reference), names_(NamesOf(reference)) {
    for (const auto& e : reference.elements) elements_[e.id] = &e;
    for (const auto& l : reference.lines) lines_[l.id] = &l;
  }

  /// Empty where the lettering has no such element or line, or there is no such measure.
  std::optional<FeatureValue> Describe(const std::string& measure,
                                       const std::vector<std::string>& about,
                                       const Measured& value) const {
    const auto known = std::find_if(kMeasures.begin(), kMeasures.end(),
                                    [&](const Measure& m) { return m.name == measure; });
    if (known == kMeasures.end()) return std::nullopt;
    FeatureValue f;
    f.key = measure;
    for (const auto& id : about) f.key += " " + id;
    f.kind = known->kind;
    f.measure = measure;
    f.elements = about;
    f.label = Label(known->kind, measure, about);
    f.value = value.value;
    f.u = value.u;
    if (f.label.empty()) return std::nullopt;
    return f;
  }

 private:
  const outline::Element* Element(const std::string& id) const {
    const auto at = elements_.find(id);
    return at == elements_.end() ? nullptr : at->second;
  }

  std::string Label(FeatureKind kind, const std::string& measure,
                    const std::vector<std::string>& about) const {
    if (about.empty()) return {};
    const outline::Element* element = Element(about[0]);
    const auto line = lines_.find(about[0]);
    switch (kind) {
      case FeatureKind::kGap: {
        const bool pair = about.size() == 2 && element != nullptr && Element(about[1]) != nullptr;
        return pair ? fmt::format("gap {}–{}", names_.at(about[0]), names_.at(about[1])) : "";
      }
      case FeatureKind::kMarkGap:
      case FeatureKind::kMarkSize:
      case FeatureKind::kMarkRise: {
        if (element == nullptr || element->kind != outline::ElementKind::kMark) return {};
        const char* words = kind == FeatureKind::kMarkGap    ? "gap to the mark "
                            : kind == FeatureKind::kMarkSize ? "height of the mark "
                                                             : "foot of the mark ";
        return words + element->character;
      }
      case FeatureKind::kLineSize:
      case FeatureKind::kLineOffset:
      case FeatureKind::kTracking: {
        if (line == lines_.end()) return {};
        const std::string name = fmt::format("\"{}\"", line->second->text);
        if (kind == FeatureKind::kLineSize) return "height of " + name;
        if (kind == FeatureKind::kTracking) return "tracking of " + name;
        return measure == "line place along" ? "sideways place of " + name
                                             : "distance of " + name + " from the wordmark";
      }
      case FeatureKind::kFrame:
        if (reference_.frame.kind == outline::FrameKind::kNone) return {};
        return measure.substr(measure.find(' ') + 1) + " of the frame";
      case FeatureKind::kHeight:
      case FeatureKind::kWidth:
      case FeatureKind::kBase:
      case FeatureKind::kShape:
        break;
    }
    if (element == nullptr) return {};
    if (kind == FeatureKind::kShape) {
      return element->kind == outline::ElementKind::kMark ? "form of the mark " + element->character
                                                          : "form of " + names_.at(about[0]);
    }
    const std::string where =
        reference_.lines.size() > 1
            ? fmt::format(" in \"{}\"",
                          reference_.lines[static_cast<std::size_t>(element->line_idx)].text)
            : std::string();
    const char* words = kind == FeatureKind::kHeight  ? "height of "
                        : kind == FeatureKind::kWidth ? "width of "
                                                      : "foot of ";
    return words + names_.at(about[0]) + where;
  }

  const outline::Lettering& reference_;
  std::map<std::string, std::string> names_;
  std::map<std::string, const outline::Element*> elements_;
  std::map<std::string, const outline::Line*> lines_;
};

class Collector {
 public:
  explicit Collector(const outline::Lettering& reference) : describer_(reference) {}
  void Add(const std::string& measure, const std::vector<std::string>& about,
           const Measured& value) {
    auto feature = describer_.Describe(measure, about, value);
    if (feature) features.push_back(std::move(*feature));
  }
  std::vector<FeatureValue> features;

 private:
  Describer describer_;
};

void AddLetters(const Measurements& measured, Collector& out) {
  for (const auto& e : measured.elements) {
    if (!e.found || e.is_mark) continue;
    // The height within its own line, so that a larger line is reported once, as a line.
    const double line_size = measured.lines[e.line_idx].relative_size.value;
    const double scale = line_size > 0 ? 1 / line_size : 1;
    out.Add("letter height", {e.id}, {e.height_ratio.value * scale, e.u_size.y()});
    out.Add("letter width", {e.id}, {e.width.value * scale, e.u_size.x()});
    const auto line_offset = measured.lines[e.line_idx].offset_y.value;
    out.Add("baseline", {e.id}, {e.base_offset.value - line_offset, e.base_offset.u});
  }
  for (const auto& e : measured.elements) {
    if (e.found) out.Add("letterform", {e.id}, {e.shape.smooth_rms, e.shape.u});
  }
}

/// "gap wordmark.0 wordmark.1" into its measure and what it is about. Measures' names have spaces
/// too, so the longest that fits is taken.
std::pair<std::string, std::vector<std::string>> Split(const std::string& key) {
  std::string measure;
  for (const Measure& m : kMeasures) {
    const std::string name = m.name;
    if (key.starts_with(name + " ") && name.size() > measure.size()) measure = name;
  }
  std::vector<std::string> about;
  std::size_t at = measure.size();
  while (!measure.empty() && at < key.size()) {
    const std::size_t end = std::min(key.find(' ', at + 1), key.size());
    about.push_back(key.substr(at + 1, end - at - 1));
    at = end;
  }
  return {measure, about};
}

}  // namespace

std::vector<FeatureValue> FeaturesOf(const outline::Lettering& reference,
                                     const Measurements& measured) {
  Collector out(reference);
  for (const auto& g : measured.gaps) out.Add("gap", {g.left, g.right}, g.value);
  if (measured.mark.found) {
    if (measured.mark.gap.u > 0) out.Add("mark gap", {"mark"}, measured.mark.gap);
    out.Add("mark size", {"mark"}, measured.mark.size);
    out.Add("mark rise", {"mark"}, measured.mark.rise);
  }
  for (std::size_t l = 0; l < measured.lines.size(); ++l) {
    const auto& line = measured.lines[l];
    if (line.relative_size.value <= 0) continue;
    if (l > 0) {
      out.Add("line height", {line.id}, line.height_ratio);
      out.Add("line place along", {line.id}, line.offset_x);
      out.Add("line place across", {line.id}, line.offset_y);
    }
    if (line.tracking.u > 0) out.Add("tracking", {line.id}, line.tracking);
  }
  if (measured.frame.kind != outline::FrameKind::kNone) {
    out.Add("frame half width", {"frame"}, measured.frame.half_width);
    out.Add("frame half height", {"frame"}, measured.frame.half_height);
    out.Add("frame line weight", {"frame"}, measured.frame.line_weight);
  }
  AddLetters(measured, out);
  return out.features;
}

std::vector<FeatureValue> FeaturesOf(const outline::Lettering& reference,
                                     const std::map<std::string, Measured>& by_key) {
  Collector out(reference);
  for (const auto& [key, value] : by_key) {
    const auto [measure, about] = Split(key);
    out.Add(measure, about, value);
  }
  return out.features;
}

}  // namespace debossier::measure
