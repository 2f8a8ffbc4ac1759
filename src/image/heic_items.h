// The items of a HEIC file: which pictures and data it holds, where they lie, what they refer to.
//
// ISO/IEC 23008-12 (HEIF) over ISO/IEC 14496-12 (boxes). Everything is read from untrusted bytes:
// lists are bounded, nothing outside the file is touched, and no box is entered twice.
// Frame: offsets count from the first byte of the file.
// Not for: decoding; libheif reads the file by itself once it has passed the checks.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace debossier::image {

class HeicItems {
 public:
  struct Item {
    std::string_view type;                ///< Four letters: hvc1, grid, Exif...
    std::vector<std::size_t> properties;  ///< Indices into the list of properties, in order.
    struct Extent {
      bool in_file = true;  ///< Else in the file's own small store (idat).
      std::uint64_t offset = 0;
      std::uint64_t size = 0;
    };
    std::vector<Extent> extents;
    bool is_elsewhere = false;  ///< In another file or built from other items: not read here.
  };
  struct Property {
    std::string_view type;
    std::string_view content;
  };
  struct Reference {
    std::string_view type;
    std::uint32_t from = 0;
    std::vector<std::uint32_t> to;
  };

  /// Reads the item lists of `bytes`, which must outlive the result. Nothing where they are
  /// absent, break off, contradict themselves or are longer than any camera writes.
  static std::optional<HeicItems> Read(std::string_view bytes);

  std::uint32_t primary() const { return primary_; }
  const Item* Find(std::uint32_t id) const;
  const Item* FirstOfType(std::string_view type) const;
  const std::vector<Reference>& references() const { return references_; }

  /// The properties of an item in the order in which they apply.
  std::vector<Property> PropertiesOf(const Item& item) const;
  /// The content of the item's first property of that type.
  std::optional<std::string_view> PropertyOf(const Item& item, std::string_view type) const;

  /// The item's data, put together; nothing where a part lies outside the file or elsewhere.
  std::optional<std::string> DataOf(const Item& item) const;

 private:
  bool ReadMeta(std::string_view content);
  bool ReadInfos(std::string_view content);
  bool ReadLocations(std::string_view content);
  bool ReadProperties(std::string_view content);
  bool ReadAssociations(std::string_view content);
  bool ReadReferences(std::string_view content);

  std::string_view bytes_;
  std::string_view store_;
  std::uint32_t primary_ = 0;
  std::map<std::uint32_t, Item> items_;
  std::vector<Property> properties_;
  std::vector<Reference> references_;
};

}  // namespace debossier::image
