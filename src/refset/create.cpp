#include "refset/create.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/quantile.h"
#include "layout/expected_size.h"
#include "measure/measure_photo.h"

namespace debossier::refset {

void KeepMeasured(const outline::Lettering& lettering, const measure::Measurements& measured,
                  Item& item) {
  item.cap_height_px = measured.quality.cap_height_px;
  item.blur_px = measured.quality.blur_px;
  item.coverage = measured.quality.coverage;
  item.features.clear();
  for (const auto& f : measure::FeaturesOf(lettering, measured)) {
    item.features[f.key] = {f.value, f.u};
  }
  item.poses.clear();
  for (const auto& e : measured.elements) {
    if (e.found) item.poses[e.id] = e.pose;
  }
}

namespace {

Item ItemFrom(const image::Photo& photo, std::size_t number, const std::string& basis,
              const outline::Lettering& lettering, const fit::PlaceReport& placed) {
  Item item;
  item.id = fmt::format("item{}", number + 1);
  item.photo_file = photo.file;
  item.photo_sha256 = photo.sha256;
  item.basis = basis;
  const auto measured = measure::MeasurePhoto(lettering, placed);
  KeepMeasured(lettering, measured, item);
  return item;
}

/// Letters much wider or narrower than their character is in usual faces, beside their line's
/// median: touching letters that were cut in the wrong place come out so, and a set of them would
/// agree with itself for ever.
std::vector<std::string> OddWidths(const outline::Lettering& lettering, int line_idx) {
  constexpr double kOdd = 1.6;
  constexpr double kNarrow = 0.35;  // I and the like differ most between faces
  std::vector<std::pair<std::string, double>> widths;
  for (const auto& e : lettering.elements) {
    if (e.line_idx != line_idx || e.kind != outline::ElementKind::kLetter) continue;
    const double usual = layout::SizeOf(e.character).width;
    const double width = outline::Bounds(e.outline).width();
    if (usual < kNarrow || !(width > 0)) continue;
    widths.emplace_back(e.character, std::log(width / usual));
  }
  if (widths.size() < 4) return {};
  std::vector<double> sorted;
  for (const auto& [character, ratio] : widths) sorted.push_back(ratio);
  std::nth_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2),
                   sorted.end());
  const double median = sorted[sorted.size() / 2];
  std::vector<std::string> odd;
  for (const auto& [character, ratio] : widths) {
    if (std::abs(ratio - median) > std::log(kOdd)) odd.push_back(character);
  }
  return odd;
}

void WarnOfOddWidths(const outline::Lettering& lettering, std::vector<Warning>& warnings) {
  for (std::size_t l = 0; l < lettering.lines.size(); ++l) {
    const auto odd = OddWidths(lettering, static_cast<int>(l));
    if (odd.empty()) continue;
    warnings.push_back(
        {"refset", lettering.lines[l].text,
         fmt::format(
             "the letters {} of \"{}\" are much wider or narrower than usual: look at the "
             "outlines, and where a letter was cut in the wrong place, give a sharper photo "
             "first or leave the blurred one out",
             fmt::join(odd, ", "), lettering.lines[l].text)});
  }
}

/// A rule that is broken up on the photo the outlines start from is looked for on all of them. A
/// set without the frame that its items have would accuse every one of them.
Result<std::monostate> EnsureFrame(const layout::TextSpec& text,
                                   const std::vector<fit::PlaceReport>& items,
                                   outline::Lettering& lettering) {
  if (text.frame == outline::FrameKind::kNone || lettering.frame.kind == text.frame) {
    return std::monostate{};
  }
  std::vector<outline::Frame> seen;
  for (const auto& placed : items) {
    const outline::Frame frame = measure::FindFrame(lettering, placed);
    const bool wanted = text.frame_line_idx < 0 || frame.line_idx == text.frame_line_idx;
    if (frame.kind == text.frame && wanted) seen.push_back(frame);
  }
  if (2 * seen.size() <= items.size()) {
    return Refuse(ErrorCode::kItemsDoNotAgree, "refset", "",
                  fmt::format("the frame that was asked for is seen on {} of {} photos",
                              seen.size(), items.size()),
                  "give photos that show its rule, or leave --frame out where there is none");
  }
  const auto median = [&](auto&& value) {
    std::vector<double> values;
    for (const auto& frame : seen) values.push_back(value(frame));
    return Median(std::move(values));
  };
  lettering.frame = seen.front();
  lettering.frame.centre = {median([](const auto& f) { return f.centre.x(); }),
                            median([](const auto& f) { return f.centre.y(); })};
  lettering.frame.radius = {median([](const auto& f) { return f.radius.x(); }),
                            median([](const auto& f) { return f.radius.y(); })};
  lettering.frame.line_weight =
      std::max(0.005, median([](const auto& f) { return f.line_weight; }));
  return std::monostate{};
}

}  // namespace

Result<Created> CreateFromPhotos(const std::vector<image::Photo>& photos,
                                 const layout::TextSpec& text, const CreateOptions& options) {
  std::vector<trace::NamedPhoto> named;
  for (const auto& p : photos) named.push_back({p.file, p.bgr});
  auto consensus = trace::BuildConsensus(named, text, options.consensus);
  if (!consensus) return PassOn(consensus);
  Created out;
  out.set.id = options.id;
  out.set.labels = options.labels;
  out.set.change.by = options.labels.entered_by;
  out.set.change.on = options.labels.entered_on;
  out.set.simulated = options.simulated;
  out.set.asks = options.asks;
  out.set.free_aspect = options.consensus.place.free_aspect;
  out.set.source = "photos";
  out.set.mark = text.mark;
  out.set.lettering = std::move(consensus->lettering);
  if (auto framed = EnsureFrame(text, consensus->items, out.set.lettering); !framed) {
    return PassOn(framed);
  }
  for (std::size_t i = 0; i < photos.size(); ++i) {
    const std::string basis = options.bases.empty()       ? std::string()
                              : options.bases.size() == 1 ? options.bases.front()
                              : i < options.bases.size()  ? options.bases[i]
                                                          : std::string();
    out.set.items.push_back(ItemFrom(photos[i], i, basis, out.set.lettering, consensus->items[i]));
    out.set.items.back().entered_by = options.labels.entered_by;
    out.set.items.back().entered_on = options.labels.entered_on;
  }
  out.warnings = std::move(consensus->warnings);
  WarnOfOddWidths(out.set.lettering, out.warnings);
  if (photos.size() < 3) {
    out.warnings.push_back({"refset", options.id,
                            fmt::format("{} verified item{} cannot show the natural spread; "
                                        "comparison will be wide. Three or more are better.",
                                        photos.size(), photos.size() == 1 ? "" : "s")});
  }
  return out;
}

Result<Created> CreateFromFont(const typeset::Font& font, const typeset::Font* origin_font,
                               const std::vector<typeset::LineSpec>& lines,
                               const typeset::MarkSpec& mark, const outline::Frame& frame,
                               const CreateOptions& options) {
  auto lettering = typeset::LayOut(font, origin_font, lines, mark, frame);
  if (!lettering) return PassOn(lettering);
  Created out;
  out.set.id = options.id;
  out.set.labels = options.labels;
  out.set.change.by = options.labels.entered_by;
  out.set.change.on = options.labels.entered_on;
  out.set.simulated = options.simulated;
  out.set.asks = options.asks;
  out.set.source = "font " + font.family_name();
  out.set.mark = mark.character;
  out.set.lettering = std::move(*lettering);
  trace::Normalise(out.set.lettering);
  out.warnings.push_back(
      {"refset", options.id, "a set from a font knows no natural spread; comparison will be wide"});
  return out;
}

}  // namespace debossier::refset
