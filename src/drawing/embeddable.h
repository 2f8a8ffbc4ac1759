// Whether a photo's file can go into a PDF as it is.
//
// Not for: decoding; the image layer has done that.
#pragma once

#include "image/photo.h"

namespace debossier::report {

/// True where `photo.bytes` is a JPEG file that every PDF reader decodes (ISO 32000-1, 7.4.8):
/// Huffman coding, 8 bits, one or three components, and the size that `photo` says.
bool CanEmbedFile(const image::Photo& photo);

}  // namespace debossier::report
