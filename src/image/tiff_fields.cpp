#include "image/tiff_fields.h"

#include <algorithm>

namespace debossier::image {

namespace {

/// Bytes per value of the unsigned integer types (TIFF 6.0, page 15), 0 for all others.
int ValueSize(std::uint16_t type) {
  switch (type) {
    case 1:
      return 1;  // BYTE
    case 3:
      return 2;  // SHORT
    case 4:
      return 4;  // LONG
    default:
      return 0;
  }
}

}  // namespace

std::optional<TiffFields> TiffFields::Read(std::string_view stream) {
  const bool little = stream.starts_with(std::string_view("II*\0", 4));
  if (!little && !stream.starts_with(std::string_view("MM\0*", 4))) return std::nullopt;
  const Endian endian = little ? Endian::kLittle : Endian::kBig;
  const auto offset = ReadUint(stream, 4, 4, endian);
  if (!offset) return std::nullopt;
  return ReadDirectory(stream, endian, *offset);
}

std::optional<TiffFields> TiffFields::ReadDirectory(std::string_view stream, Endian endian,
                                                    std::uint32_t offset) {
  const auto count = ReadUint(stream, offset, 2, endian);
  if (!count) return std::nullopt;
  const auto entries = Slice(stream, std::uint64_t{offset} + 2, std::uint64_t{*count} * 12);
  if (!entries) return std::nullopt;
  TiffFields directory;
  directory.stream_ = stream;
  directory.endian_ = endian;
  for (std::uint32_t i = 0; i < *count; ++i) {
    const std::uint64_t at = std::uint64_t{i} * 12;
    Field field;
    field.tag = static_cast<std::uint16_t>(*ReadUint(*entries, at, 2, endian));
    field.type = static_cast<std::uint16_t>(*ReadUint(*entries, at + 2, 2, endian));
    field.count = *ReadUint(*entries, at + 4, 4, endian);
    field.entry_offset = std::uint64_t{offset} + 2 + at;
    directory.fields_.push_back(field);
  }
  return directory;
}

std::optional<TiffFields> TiffFields::Child(std::uint16_t tag) const {
  const auto offset = Value(tag);
  if (!offset) return std::nullopt;
  return ReadDirectory(stream_, endian_, *offset);
}

std::optional<TiffFields::Place> TiffFields::Where(std::uint16_t tag) const {
  const Field* field = Find(tag);
  const int size = field ? ValueSize(field->type) : 0;
  if (size == 0 || field->count == 0) return std::nullopt;
  // Up to four bytes stand in the entry itself, more where the entry points.
  if (std::uint64_t{field->count} * static_cast<std::uint64_t>(size) <= 4) {
    return Place{field->entry_offset + 8, size};
  }
  const auto offset = ReadUint(stream_, field->entry_offset + 8, 4, endian_);
  if (!offset) return std::nullopt;
  return Place{*offset, size};
}

std::optional<std::uint32_t> TiffFields::Value(std::uint16_t tag) const {
  const auto place = Where(tag);
  if (!place) return std::nullopt;
  return ReadUint(stream_, place->offset, place->size, endian_);
}

std::optional<std::vector<std::uint32_t>> TiffFields::Values(std::uint16_t tag,
                                                             std::uint32_t max) const {
  const auto place = Where(tag);
  const std::uint64_t count = place ? Find(tag)->count : 0;
  if (!place || count > max) return std::nullopt;
  std::vector<std::uint32_t> values;
  for (std::uint64_t i = 0; i < count; ++i) {
    const auto value = ReadUint(stream_, place->offset + i * place->size, place->size, endian_);
    if (!value) return std::nullopt;
    values.push_back(*value);
  }
  return values;
}

const TiffFields::Field* TiffFields::Find(std::uint16_t tag) const {
  const auto found = std::find_if(fields_.begin(), fields_.end(),
                                  [tag](const Field& field) { return field.tag == tag; });
  return found == fields_.end() ? nullptr : &*found;
}

}  // namespace debossier::image
