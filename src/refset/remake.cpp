#include "refset/remake.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "measure/features.h"
#include "measure/grain.h"
#include "measure/measure_photo.h"
#include "outline/ufo.h"
#include "refset/create.h"
#include "refset/outlines.h"
#include "trace/consensus.h"

namespace debossier::refset {

namespace fs = std::filesystem;

Result<image::Photo> PhotoOfItem(const Library& library, const RefSet& set, const Item& item,
                                 const std::vector<image::Photo>& given) {
  for (const auto& photo : given) {
    if (photo.sha256 == item.photo_sha256) return photo;
  }
  if (item.photo_kept.empty()) {
    return Refuse(ErrorCode::kFileMissing, "refset", item.photo_file,
                  fmt::format("is not kept in the library, and this change needs it for {} "
                              "(sha256 {})",
                              item.id, item.photo_sha256),
                  "give it with --with-photo FILE, or use --keep-outlines");
  }
  const fs::path path = library.set(set.id) / "photos" / item.photo_kept;
  auto photo = image::LoadPhoto(path);
  if (!photo) return photo;
  if (photo->sha256 != item.photo_sha256) {
    return Refuse(ErrorCode::kSetUnreadable, "refset", path.string(),
                  fmt::format("is no longer the photo of {}: its hash differs", item.id),
                  "restore it from a backup");
  }
  photo->file = item.photo_file;
  return photo;
}

Result<std::monostate> MeasureItem(const image::Photo& photo, const RefSet& set, Item& item) {
  fit::PlaceOptions options;
  options.free_aspect = set.free_aspect;
  auto placed = fit::PlaceLettering(photo.bgr, set.lettering, options);
  if (!placed) {
    Error error = placed.error();
    error.where = photo.file;
    return Unexpected(std::move(error));
  }
  const auto measured = measure::MeasurePhoto(set.lettering, *placed);
  KeepMeasured(set.lettering, measured, item);
  item.grain = measure::GrainOf(set.lettering, *placed);
  return std::monostate{};
}

Result<Created> RemakeFromPhotos(const Library& library, const RefSet& set,
                                 const std::vector<image::Photo>& given) {
  std::vector<image::Photo> photos;
  for (const auto& item : set.items) {
    auto photo = PhotoOfItem(library, set, item, given);
    if (!photo) return PassOn(photo);
    photos.push_back(std::move(*photo));
  }
  reading::TextSpec text;
  for (const auto& line : set.lettering.lines) text.lines.push_back({line.id, line.text});
  text.mark = set.mark;
  text.frame = set.lettering.frame.kind;
  text.frame_line_idx = set.lettering.frame.line_idx;
  CreateOptions options;
  options.id = set.id;
  options.labels = set.labels;
  options.simulated = set.simulated;
  options.consensus.place.free_aspect = set.free_aspect;
  auto made = CreateFromPhotos(photos, text, options);
  if (!made) return made;
  RefSet next = set;
  next.lettering = std::move(made->set.lettering);
  for (std::size_t i = 0; i < next.items.size(); ++i) {
    const Item& fresh = made->set.items[i];
    next.items[i].cap_height_px = fresh.cap_height_px;
    next.items[i].blur_px = fresh.blur_px;
    next.items[i].coverage = fresh.coverage;
    next.items[i].grain = fresh.grain;
    next.items[i].placement = fresh.placement;
    next.items[i].features = fresh.features;
    next.items[i].poses = fresh.poses;
  }
  return Created{std::move(next), std::move(made->warnings)};
}

namespace {

Unexpected NotAdopted(const fs::path& ufo, const std::string& what, const std::string& hint) {
  return Refuse(ErrorCode::kSetUnreadable, "refset", ufo.string(), what, hint);
}

Result<std::monostate> CheckGlyphs(const fs::path& ufo, const outline::UfoFont& font,
                                   const RefSet& set) {
  std::set<std::string> wanted;
  for (const auto& e : set.lettering.elements) wanted.insert(e.id);
  for (const auto& g : font.glyphs) {
    if (g.outline.empty()) continue;
    if (wanted.erase(g.name) == 0 && g.name != ".notdef") {
      return NotAdopted(ufo, fmt::format("glyph \"{}\" is no element of the set", g.name),
                        "an edit changes the form of elements; what is stamped stays the same");
    }
  }
  if (!wanted.empty()) {
    return NotAdopted(ufo, fmt::format("has no outline for \"{}\"", *wanted.begin()),
                      "every element of the set needs its glyph, with its name");
  }
  for (const auto& g : font.glyphs) {
    const auto standard = outline::WithStandardDirection(g.outline);
    for (std::size_t i = 0; i < g.outline.contours.size(); ++i) {
      const double area = outline::SignedArea(g.outline.contours[i]);
      if (area * outline::SignedArea(standard.contours[i]) > 0) continue;
      return NotAdopted(
          ufo,
          fmt::format("glyph \"{}\" has a contour that runs the wrong way round or has no "
                      "area",
                      g.name),
          "outer contours run counter-clockwise, counters clockwise: let the font editor correct "
          "the directions");
    }
  }
  return std::monostate{};
}

}  // namespace

Result<RefSet> WithOutlinesOf(const fs::path& ufo, const RefSet& set) {
  constexpr double kMostChange = 0.25;  // cap heights; an edit, not another letter
  auto font = outline::LoadUfo(ufo);
  if (!font) return PassOn(font);
  if (auto checked = CheckGlyphs(ufo, *font, set); !checked) return PassOn(checked);
  RefSet next = set;
  std::vector<ParsedSet::Glyph> glyphs;
  for (const auto& e : set.lettering.elements) {
    const double baseline = set.lettering.lines[e.line_idx].baseline;
    glyphs.push_back({e.id, {outline::Bounds(e.outline).min.x(), baseline}});
  }
  auto placed = PlaceOutlines(*font, glyphs, ufo.string(), next.lettering);
  if (!placed) return PassOn(placed);
  for (std::size_t i = 0; i < set.lettering.elements.size(); ++i) {
    const auto& e = set.lettering.elements[i];
    const outline::Box before = outline::Bounds(e.outline);
    const outline::Box after = outline::Bounds(next.lettering.elements[i].outline);
    const double change = std::max((after.min - before.min).lpNorm<Eigen::Infinity>(),
                                   (after.max - before.max).lpNorm<Eigen::Infinity>());
    if (change <= kMostChange) continue;
    return NotAdopted(
        ufo, fmt::format("glyph \"{}\" was moved or resized by {:.2f} cap heights", e.id, change),
        "keep the glyph's place, size and the font's cap height; a set of other "
        "lettering is a set of its own");
  }
  if (Digest(*font) == Digest(FontOf(set)) || Digest(*font) == set.outlines_sha256) {
    return Refuse(ErrorCode::kUsage, "refset", ufo.string(), "is the same as the set's outlines",
                  "edit and save it first");
  }
  trace::Normalise(next.lettering);
  return next;
}

}  // namespace debossier::refset
