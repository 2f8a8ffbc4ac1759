#include "refset/create.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/quantile.h"
#include "measure/grain.h"
#include "measure/measure_photo.h"
#include "trace/check_letters.h"

namespace debossier::refset {

void KeepMeasured(const outline::Lettering& lettering, const measure::Measurements& measured,
                  Item& item) {
  item.cap_height_px = measured.quality.cap_height_px;
  item.blur_px = measured.quality.blur_px;
  item.coverage = measured.quality.coverage;
  item.placement = measured.placement;
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
  item.grain = measure::GrainOf(lettering, placed);
  return item;
}

/// Letters that are cut in a wrong place, or a text that is not what is stamped, would be accused
/// on every genuine item for ever.
Result<std::monostate> EnsureLetters(const CreateOptions& options, const std::string& beside,
                                     Created& out) {
  const auto doubtful = trace::DoubtfulLetters(out.set.lettering);
  if (!doubtful && !options.allow_doubtful) return PassOn(doubtful);
  std::string shown =
      doubtful ? trace::InWords(*doubtful, out.set.lettering) : doubtful.error().message;
  if (!beside.empty()) shown += (shown.empty() ? "" : "; ") + beside;
  if (shown.empty()) return std::monostate{};
  if (!options.allow_doubtful) {
    return Refuse(ErrorCode::kItemsDoNotAgree, "refset", "", shown,
                  "check the text letter by letter as stamped; give sharper photos or leave the "
                  "blurred ones out; where the letters really look so, say --allow-doubtful and "
                  "look at them in the proof sheet");
  }
  out.warnings.push_back({"refset", out.set.id, "doubtful, look at the proof sheet: " + shown});
  return std::monostate{};
}

}  // namespace

Result<std::monostate> CheckItemsDiffer(const std::vector<Item>& items) {
  for (std::size_t i = 0; i < items.size(); ++i) {
    for (std::size_t k = 0; k < i; ++k) {
      const bool same_file = items[i].photo_sha256 == items[k].photo_sha256;
      const auto grain = measure::CompareGrain(items[i].grain, items[k].grain);
      if (!same_file && !grain.IsSame()) continue;
      return Refuse(
          ErrorCode::kItemsDoNotAgree, "refset", items[i].photo_file,
          same_file
              ? fmt::format("is the same photo as {}, {}", items[k].id, items[k].photo_file)
              : fmt::format("shows the same piece of leather as {}, {}: {:.0f} % of its grain "
                            "agrees, where other items agree in about half by chance",
                            items[k].id, items[k].photo_file, 100 * grain.share),
          "give one photo of each item: the spread between items must not be that of one");
    }
  }
  return std::monostate{};
}

namespace {

/// A rule that is broken up on the photo the outlines start from is looked for on all of them. A
/// set without the frame that its items have would accuse every one of them.
Result<std::monostate> EnsureFrame(const reading::TextSpec& text,
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
    values.reserve(seen.size());
    for (const auto& frame : seen) values.push_back(value(frame));
    return UpperMedian(std::move(values));
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
                                 const reading::TextSpec& text, const CreateOptions& options) {
  std::vector<trace::NamedPhoto> named;
  named.reserve(photos.size());
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
  if (auto differ = CheckItemsDiffer(out.set.items); !differ) return PassOn(differ);
  out.warnings = std::move(consensus->warnings);
  if (auto checked = EnsureLetters(options, consensus->beside, out); !checked)
    return PassOn(checked);
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
