// HEIC as phones write it: ISO/IEC 23008-12 with HEVC pictures, one or a grid of tiles.
//
// The decoder believes sizes that stand deep in the file, so all that it would decode is held
// against the size in the header here: the tiles of a grid, the parameter sets of each picture.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "image/bytes.h"
#include "image/heic_items.h"
#include "image/hevc_size.h"
#include "image/picture_file.h"

namespace debossier::image {

namespace {

struct Size {
  std::uint32_t width = 0;
  std::uint32_t height = 0;
  double pixels() const { return 1.0 * width * height; }
};

/// Coded pictures are padded to whole coding blocks of up to 64 px (H.265, 7.4.3.2.1).
constexpr std::uint32_t kPaddingPx = 64;
/// Pixels that are decoded and not shown, beside as many again: tiles that reach over the edge.
constexpr double kMostBeside = 4e6;

bool IsQuarterTurn(const HeicItems::Property& property) {
  // Turns by quarters, ISO/IEC 23008-12, 6.5.10.
  return property.type == "irot" && !property.content.empty() && (property.content[0] & 1) != 0;
}

/// Image spatial extents (ISO/IEC 23008-12, 6.5.3) before cuts and turns. Properties apply in their
/// order: extents behind a turn, as some programs write them, are those after the turn.
std::optional<Size> ExtentsOf(const HeicItems& items, const HeicItems::Item& item) {
  bool is_turned = false;
  for (const HeicItems::Property& property : items.PropertiesOf(item)) {
    is_turned = is_turned != IsQuarterTurn(property);
    if (property.type != "ispe") continue;
    const auto width = ReadUint(property.content, 4, 4, Endian::kBig);
    const auto height = ReadUint(property.content, 8, 4, Endian::kBig);
    if (!width || !height || *width == 0 || *height == 0) return std::nullopt;
    return is_turned ? Size{*height, *width} : Size{*width, *height};
  }
  return std::nullopt;
}

/// What a grid of tiles says (ISO/IEC 23008-12, 6.6.2.3).
struct GridShape {
  std::uint32_t tiles = 0;
  Size size;
};

std::optional<GridShape> GridOf(const HeicItems& items, const HeicItems::Item& item) {
  const auto data = items.DataOf(item);
  if (!data) return std::nullopt;
  const int field = (ReadUint(*data, 1, 1, Endian::kBig).value_or(0) & 1u) != 0 ? 4 : 2;
  const auto rows = ReadUint(*data, 2, 1, Endian::kBig);
  const auto columns = ReadUint(*data, 3, 1, Endian::kBig);
  const auto width = ReadUint(*data, 4, field, Endian::kBig);
  const auto height = ReadUint(*data, 4 + static_cast<std::uint64_t>(field), field, Endian::kBig);
  if (!rows || !columns || !width || !height) return std::nullopt;
  return GridShape{(*rows + 1) * (*columns + 1), {*width, *height}};
}

/// A side that a clean aperture (ISO/IEC 14496-12, 12.1.4) leaves: a fraction, rounded.
std::uint32_t ClippedSide(std::string_view aperture, std::uint64_t at, std::uint32_t side) {
  const auto numerator = ReadUint(aperture, at, 4, Endian::kBig);
  const auto denominator = ReadUint(aperture, at + 4, 4, Endian::kBig);
  if (!numerator || !denominator || *denominator == 0) return side;
  const double clipped = std::round(static_cast<double>(*numerator) / *denominator);
  return clipped >= 1 && clipped < side ? static_cast<std::uint32_t>(clipped) : side;
}

/// The size that is shown: cut and turned in the order of the item's properties.
Size ShownSize(const HeicItems& items, const HeicItems::Item& item, Size size) {
  for (const HeicItems::Property& property : items.PropertiesOf(item)) {
    if (property.type == "clap") {
      size.width = ClippedSide(property.content, 0, size.width);
      size.height = ClippedSide(property.content, 8, size.height);
    }
    if (IsQuarterTurn(property)) std::swap(size.width, size.height);
  }
  return size;
}

/// The Exif item begins with the distance to the TIFF stream, ISO/IEC 23008-12, A.2.1.
void ApplyExifItem(const HeicItems& items, Header& header) {
  const HeicItems::Item* item = items.FirstOfType("Exif");
  const auto data = item ? items.DataOf(*item) : std::nullopt;
  const auto distance = data ? ReadUint(*data, 0, 4, Endian::kBig) : std::nullopt;
  if (!distance || *distance > data->size() - 4) return;
  ApplyExif(std::string_view(*data).substr(4 + std::size_t{*distance}), header);
  // The turn in the file's own properties counts; EXIF repeats it for other programs.
  header.exif_orientation = 1;
}

class Check {
 public:
  Check(const HeicItems& items, std::uint64_t file_bytes, const std::string& where)
      : items_(items), bytes_left_(file_bytes), where_(where) {}

  Result<std::monostate> Picture(std::uint32_t id) {
    const HeicItems::Item* item = items_.Find(id);
    if (item == nullptr) return Damaged(where_, "the HEIC file names a picture that it lacks");
    return item->type == "grid" ? Grid(id, *item) : Coded(*item);
  }

 private:
  /// A picture that is coded in one piece.
  Result<std::monostate> Coded(const HeicItems::Item& item) {
    const auto size = ExtentsOf(items_, item);
    const auto configuration = items_.PropertyOf(item, "hvcC");
    if (!size || !configuration || (item.type != "hvc1" && item.type != "hev1")) {
      return Damaged(where_, "the HEIC file holds a picture without a size or its decoder's data");
    }
    const auto data = items_.DataOf(item);
    if (!data) return Truncated();
    // Tiles that share data would be decoded over and over.
    if (data->size() > bytes_left_) {
      return Damaged(where_, "the HEIC file uses the same picture data many times");
    }
    bytes_left_ -= data->size();
    const auto coded = LargestHevcSize(*configuration, *data);
    if (!coded) return Damaged(where_, "the HEIC file's coded picture breaks off or has no size");
    if (coded->width > size->width + kPaddingPx || coded->height > size->height + kPaddingPx) {
      return Damaged(where_, "the HEIC file's coded picture is larger than its header says");
    }
    return std::monostate{};
  }

  /// A picture put together from tiles of one size.
  Result<std::monostate> Grid(std::uint32_t id, const HeicItems::Item& item) {
    const auto size = ExtentsOf(items_, item);
    const auto grid = GridOf(items_, item);
    if (!grid) return Truncated();
    if (!size || size->width != grid->size.width || size->height != grid->size.height) {
      return Damaged(where_, "the HEIC file's grid contradicts its header");
    }
    const std::vector<std::uint32_t> tiles = TilesOf(id);
    if (tiles.size() != grid->tiles) {
      return Damaged(where_, "the HEIC file's grid lacks tiles");
    }
    double pixels = 0;
    for (const std::uint32_t tile_id : tiles) {
      const HeicItems::Item* tile = items_.Find(tile_id);
      if (tile == nullptr) return Damaged(where_, "the HEIC file's grid lacks tiles");
      const auto extents = ExtentsOf(items_, *tile);
      pixels += extents ? extents->pixels() : 0;
      if (pixels > 2 * grid->size.pixels() + kMostBeside) {
        return Damaged(where_, "the HEIC file's tiles are larger than the picture they make");
      }
    }
    for (const std::uint32_t tile_id : tiles) {
      if (auto coded = Coded(*items_.Find(tile_id)); !coded) return coded;
    }
    return std::monostate{};
  }

  std::vector<std::uint32_t> TilesOf(std::uint32_t id) const {
    for (const HeicItems::Reference& reference : items_.references()) {
      if (reference.type == "dimg" && reference.from == id) return reference.to;
    }
    return {};
  }

  Unexpected Truncated() const {
    return Damaged(where_, "the HEIC file is truncated: picture data lies beyond its end");
  }

  const HeicItems& items_;
  std::uint64_t bytes_left_;
  const std::string& where_;
};

/// Alpha is decoded with the picture; maps of depth or brightness are not.
bool IsAlpha(const HeicItems& items, const HeicItems::Item& item) {
  constexpr std::array<std::string_view, 3> kAlpha = {
      "urn:mpeg:avc:2015:auxid:1", "urn:mpeg:hevc:2015:auxid:1",
      "urn:mpeg:mpegB:cicp:systems:auxiliary:alpha"};
  const auto content = items.PropertyOf(item, "auxC");
  if (!content || content->size() < 4) return false;
  const std::string_view urn = content->substr(4, content->find('\0', 4) - 4);
  return std::ranges::find(kAlpha, urn) != kAlpha.end();
}

}  // namespace

Result<Header> ReadHeicHeader(std::string_view bytes, const std::string& where) {
  const auto items = HeicItems::Read(bytes);
  if (!items) return Damaged(where, "the HEIC file breaks off or contradicts itself in its header");
  const HeicItems::Item& primary = *items->Find(items->primary());
  if (primary.type == "av01") {
    return UnsupportedKind(where, "is an AVIF picture, which is not read here");
  }
  if (primary.type != "hvc1" && primary.type != "hev1" && primary.type != "grid") {
    return UnsupportedKind(where, "is a HEIF picture of a kind that phones do not write");
  }
  const auto size = ExtentsOf(*items, primary);
  if (!size || size->pixels() == 0)
    return Damaged(where, "the HEIC header gives no width or no height");
  Header header;
  header.format = Format::kHeic;
  const Size shown = ShownSize(*items, primary, *size);
  // A cut picture is decoded whole, but the limits are held against what is shown.
  if (size->pixels() > 2 * shown.pixels() + kMostBeside) {
    return UnsupportedKind(where, "is a HEIC picture that shows a small part of what it holds");
  }
  header.width = SidePx(shown.width);
  header.height = SidePx(shown.height);
  ApplyExifItem(*items, header);
  return header;
}

Result<std::monostate> CheckHeicWhole(std::string_view bytes, const std::string& where) {
  const auto items = HeicItems::Read(bytes);
  if (!items) return Damaged(where, "the HEIC file breaks off or contradicts itself in its header");
  Check check(*items, bytes.size(), where);
  auto sound = check.Picture(items->primary());
  for (const HeicItems::Reference& reference : items->references()) {
    if (!sound) return sound;
    const HeicItems::Item* from = items->Find(reference.from);
    const bool is_ours = std::ranges::find(reference.to, items->primary()) != reference.to.end();
    if (reference.type != "auxl" || !is_ours || from == nullptr || !IsAlpha(*items, *from))
      continue;
    const auto whole = ExtentsOf(*items, *items->Find(items->primary()));
    const auto alpha = ExtentsOf(*items, *from);
    if (!whole || !alpha || alpha->pixels() > whole->pixels()) {
      return Damaged(where, "the HEIC file's transparency is larger than its picture");
    }
    sound = check.Picture(reference.from);
  }
  return sound;
}

}  // namespace debossier::image
