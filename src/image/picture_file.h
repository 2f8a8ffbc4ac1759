// The five picture formats: what a header says, and whether the file is whole.
//
// Each format has a reader of the header, which stops before any pixel, and a check that the file
// runs to its end, so that a truncated file is refused and not decoded into a half-grey picture.
// The limits of LoadOptions belong between the two.
// Not for: pixels (decode.h).
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <variant>

#include "base/result.h"
#include "image/photo.h"

namespace debossier::image {

Result<Header> ReadJpegHeader(std::string_view bytes, const std::string& where);
Result<Header> ReadPngHeader(std::string_view bytes, const std::string& where);
Result<Header> ReadTiffHeader(std::string_view bytes, const std::string& where);
Result<Header> ReadWebpHeader(std::string_view bytes, const std::string& where);
/// By libheif, which nothing else loads: with its codecs it would double the program's start.
Result<Header> ReadHeicHeader(std::string_view bytes, const std::string& where);

Result<std::monostate> CheckJpegWhole(std::string_view bytes, const std::string& where);
Result<std::monostate> CheckPngWhole(std::string_view bytes, const std::string& where);
Result<std::monostate> CheckTiffWhole(std::string_view bytes, const std::string& where);
Result<std::monostate> CheckWebpWhole(std::string_view bytes, const std::string& where);

/// Takes orientation and focal length from EXIF data: a TIFF stream, with or without the six
/// bytes "Exif\0\0" before it. Values that EXIF 2.32 does not permit are left out.
void ApplyExif(std::string_view exif, Header& header);

/// Width or height as an int; sizes beyond an int stop at its largest, which is over any limit.
int SidePx(std::uint32_t side);

/// kNotAnImage for a file that breaks off or contradicts itself.
Unexpected Damaged(const std::string& where, std::string message);

/// kNotAnImage for a sound file of a kind that is not read here.
Unexpected UnsupportedKind(const std::string& where, std::string message);

}  // namespace debossier::image
