#include "image/heic_items.h"

#include "image/bytes.h"

namespace debossier::image {

namespace {

/// A 48-megapixel photo of a phone has about 200 tiles, each an item with one extent.
constexpr std::size_t kMostItems = 20'000;
constexpr std::size_t kMostExtents = 100'000;

/// Reads big-endian integers one behind the other; after a read beyond the end all is 0 and ok()
/// is false.
class Cursor {
 public:
  explicit Cursor(std::string_view bytes) : bytes_(bytes) {}

  /// `size` is 0 (which reads 0), 1 to 4, or 8.
  std::uint64_t Uint(int size) {
    if (size == 0) return 0;
    if (size == 8) {
      const std::uint64_t high = Uint(4);
      return high << 32 | Uint(4);
    }
    const auto value = size <= 4 ? ReadUint(bytes_, at_, size, Endian::kBig) : std::nullopt;
    ok_ = ok_ && value;
    at_ += static_cast<std::size_t>(size);
    return ok_ ? *value : 0;
  }
  std::string_view Letters() {
    const auto slice = Slice(bytes_, at_, 4);
    ok_ = ok_ && slice;
    at_ += 4;
    return ok_ ? *slice : std::string_view();
  }
  std::string_view Rest() const { return ok_ ? bytes_.substr(at_) : std::string_view(); }
  bool ok() const { return ok_; }

 private:
  std::string_view bytes_;
  std::size_t at_ = 0;
  bool ok_ = true;
};

struct Box {
  std::string_view type;
  std::string_view content;
};

/// Takes one box off the front of `bytes` (ISO/IEC 14496-12, 4.2); nothing where none is whole.
std::optional<Box> TakeBox(std::string_view& bytes) {
  const auto small = ReadUint(bytes, 0, 4, Endian::kBig);
  const auto type = Slice(bytes, 4, 4);
  if (!small || !type) return std::nullopt;
  std::uint64_t head = 8;
  std::uint64_t size = *small;
  if (size == 0) size = bytes.size();
  if (size == 1) {
    const auto high = ReadUint(bytes, 8, 4, Endian::kBig);
    const auto low = ReadUint(bytes, 12, 4, Endian::kBig);
    if (!high || !low) return std::nullopt;
    head = 16;
    size = std::uint64_t{*high} << 32 | *low;
  }
  if (size < head) return std::nullopt;
  const auto whole = Slice(bytes, 0, size);
  if (!whole) return std::nullopt;
  bytes.remove_prefix(whole->size());
  return Box{*type, whole->substr(static_cast<std::size_t>(head))};
}

/// Version and flags of a full box, taken off its content.
struct Full {
  std::uint32_t version = 0;
  std::uint32_t flags = 0;
  std::string_view content;
};

std::optional<Full> TakeFull(std::string_view content) {
  const auto word = ReadUint(content, 0, 4, Endian::kBig);
  if (!word) return std::nullopt;
  return Full{*word >> 24, *word & 0xffffffu, content.substr(4)};
}

}  // namespace

std::optional<HeicItems> HeicItems::Read(std::string_view bytes) {
  HeicItems items;
  items.bytes_ = bytes;
  for (std::string_view rest = bytes; !rest.empty();) {
    const auto box = TakeBox(rest);
    if (!box) return std::nullopt;
    if (box->type != "meta") continue;
    if (!items.ReadMeta(box->content) || items.Find(items.primary_) == nullptr) {
      return std::nullopt;
    }
    return items;
  }
  return std::nullopt;
}

bool HeicItems::ReadMeta(std::string_view content) {
  const auto full = TakeFull(content);
  if (!full) return false;
  // Locations and associations name items, so the list of items comes first.
  std::map<std::string_view, std::string_view> boxes;
  for (std::string_view rest = full->content; !rest.empty();) {
    const auto box = TakeBox(rest);
    if (!box || boxes.size() > 100) return false;
    boxes.emplace(box->type, box->content);
  }
  const auto primary = TakeFull(boxes["pitm"]);
  if (!primary) return false;
  Cursor cursor(primary->content);
  primary_ = static_cast<std::uint32_t>(cursor.Uint(primary->version == 0 ? 2 : 4));
  store_ = boxes["idat"];
  return cursor.ok() && ReadInfos(boxes["iinf"]) && ReadLocations(boxes["iloc"]) &&
         ReadProperties(boxes["iprp"]) &&
         (!boxes.contains("iref") || ReadReferences(boxes["iref"]));
}

bool HeicItems::ReadInfos(std::string_view content) {
  const auto full = TakeFull(content);
  if (!full) return false;
  Cursor cursor(full->content);
  cursor.Uint(full->version == 0 ? 2 : 4);
  for (std::string_view rest = cursor.Rest(); !rest.empty();) {
    const auto box = TakeBox(rest);
    const auto info = box ? TakeFull(box->content) : std::nullopt;
    if (!info || items_.size() >= kMostItems) return false;
    if (box->type != "infe" || info->version < 2) continue;
    Cursor entry(info->content);
    const auto id = static_cast<std::uint32_t>(entry.Uint(info->version == 2 ? 2 : 4));
    entry.Uint(2);
    const std::string_view type = entry.Letters();
    if (!entry.ok()) return false;
    items_[id].type = type;
  }
  return cursor.ok();
}

bool HeicItems::ReadLocations(std::string_view content) {
  const auto full = TakeFull(content);
  if (!full || full->version > 2) return false;
  Cursor cursor(full->content);
  const auto sizes = static_cast<int>(cursor.Uint(2));
  const int offset_size = sizes >> 12 & 15, length_size = sizes >> 8 & 15;
  const int base_size = sizes >> 4 & 15, index_size = full->version > 0 ? sizes & 15 : 0;
  for (const int size : {offset_size, length_size, base_size, index_size}) {
    if (size != 0 && size != 4 && size != 8) return false;
  }
  const std::uint64_t count = cursor.Uint(full->version < 2 ? 2 : 4);
  if (count > kMostItems) return false;
  std::size_t extents = 0;
  for (std::uint64_t i = 0; i < count && cursor.ok(); ++i) {
    const auto id = static_cast<std::uint32_t>(cursor.Uint(full->version < 2 ? 2 : 4));
    const std::uint64_t method = full->version > 0 ? cursor.Uint(2) & 15 : 0;
    const std::uint64_t other_file = cursor.Uint(2);
    const std::uint64_t base = cursor.Uint(base_size);
    const std::uint64_t parts = cursor.Uint(2);
    extents += parts;
    if (extents > kMostExtents) return false;
    const auto found = items_.find(id);
    for (std::uint64_t k = 0; k < parts && cursor.ok(); ++k) {
      cursor.Uint(index_size);
      const std::uint64_t offset = base + cursor.Uint(offset_size);
      const std::uint64_t size = cursor.Uint(length_size);
      if (offset < base) return false;
      if (found != items_.end()) found->second.extents.push_back({method == 0, offset, size});
    }
    if (found != items_.end()) found->second.is_elsewhere = method > 1 || other_file != 0;
  }
  return cursor.ok();
}

bool HeicItems::ReadProperties(std::string_view content) {
  bool has_list = false;
  for (std::string_view rest = content; !rest.empty();) {
    const auto box = TakeBox(rest);
    if (!box) return false;
    if (box->type == "ipma" && !ReadAssociations(box->content)) return false;
    if (box->type != "ipco" || has_list) continue;
    has_list = true;
    for (std::string_view list = box->content; !list.empty();) {
      const auto property = TakeBox(list);
      if (!property || properties_.size() >= kMostItems) return false;
      properties_.push_back({property->type, property->content});
    }
  }
  return has_list;
}

bool HeicItems::ReadAssociations(std::string_view content) {
  const auto full = TakeFull(content);
  if (!full) return false;
  Cursor cursor(full->content);
  const std::uint64_t count = cursor.Uint(4);
  if (count > kMostItems) return false;
  const int index_size = (full->flags & 1u) != 0 ? 2 : 1;
  const std::uint64_t mask = index_size == 2 ? 0x7fff : 0x7f;
  for (std::uint64_t i = 0; i < count && cursor.ok(); ++i) {
    const auto id = static_cast<std::uint32_t>(cursor.Uint(full->version < 1 ? 2 : 4));
    const auto found = items_.find(id);
    for (std::uint64_t left = cursor.Uint(1); left > 0 && cursor.ok(); --left) {
      const std::uint64_t index = cursor.Uint(index_size) & mask;
      // Indices count from 1; 0 means none.
      if (index > 0 && found != items_.end()) {
        found->second.properties.push_back(static_cast<std::size_t>(index - 1));
      }
    }
  }
  return cursor.ok();
}

bool HeicItems::ReadReferences(std::string_view content) {
  const auto full = TakeFull(content);
  if (!full) return false;
  const int id_size = full->version == 0 ? 2 : 4;
  for (std::string_view rest = full->content; !rest.empty();) {
    const auto box = TakeBox(rest);
    if (!box || references_.size() >= kMostItems) return false;
    Cursor cursor(box->content);
    Reference reference;
    reference.type = box->type;
    reference.from = static_cast<std::uint32_t>(cursor.Uint(id_size));
    for (std::uint64_t left = cursor.Uint(2); left > 0 && cursor.ok(); --left) {
      reference.to.push_back(static_cast<std::uint32_t>(cursor.Uint(id_size)));
    }
    if (!cursor.ok()) return false;
    references_.push_back(std::move(reference));
  }
  return true;
}

const HeicItems::Item* HeicItems::Find(std::uint32_t id) const {
  const auto found = items_.find(id);
  return found == items_.end() ? nullptr : &found->second;
}

const HeicItems::Item* HeicItems::FirstOfType(std::string_view type) const {
  for (const auto& [id, item] : items_) {
    if (item.type == type) return &item;
  }
  return nullptr;
}

std::vector<HeicItems::Property> HeicItems::PropertiesOf(const Item& item) const {
  std::vector<Property> properties;
  for (const std::size_t index : item.properties) {
    if (index < properties_.size()) properties.push_back(properties_[index]);
  }
  return properties;
}

std::optional<std::string_view> HeicItems::PropertyOf(const Item& item,
                                                      std::string_view type) const {
  for (const std::size_t index : item.properties) {
    if (index < properties_.size() && properties_[index].type == type) {
      return properties_[index].content;
    }
  }
  return std::nullopt;
}

std::optional<std::string> HeicItems::DataOf(const Item& item) const {
  if (item.is_elsewhere || item.extents.empty()) return std::nullopt;
  std::string data;
  for (const Item::Extent& extent : item.extents) {
    const std::string_view store = extent.in_file ? bytes_ : store_;
    // A length of 0 stands for all that follows.
    const std::uint64_t size = extent.size > 0 || extent.offset > store.size()
                                   ? extent.size
                                   : store.size() - extent.offset;
    const auto part = Slice(store, extent.offset, size);
    // Extents that overlap could claim many times the file's size.
    if (!part || data.size() + part->size() > bytes_.size()) return std::nullopt;
    data += *part;
  }
  return data;
}

}  // namespace debossier::image
