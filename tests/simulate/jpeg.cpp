#include "simulate/jpeg.h"

#include <algorithm>

#include "image/encode_jpeg.h"

namespace debossier::simulate {
namespace {

constexpr std::size_t kLongestNote = 4000;

std::string BigEndian16(std::size_t value) {
  return {static_cast<char>(value >> 8 & 0xff), static_cast<char>(value & 0xff)};
}

std::string LittleEndian(std::size_t value, int bytes) {
  std::string out;
  for (int k = 0; k < bytes; ++k) out.push_back(static_cast<char>(value >> (8 * k) & 0xff));
  return out;
}

/// A marker segment: its length field counts itself (T.81 B.1.1.4).
std::string MarkerSegment(unsigned char code, const std::string& payload) {
  return std::string("\xff") + static_cast<char>(code) + BigEndian16(payload.size() + 2) + payload;
}

/// Exif with one entry: ImageDescription (270, ASCII with a closing zero).
std::string ExifPayload(const std::string& description) {
  constexpr std::size_t kIfdOffset = 8;
  constexpr std::size_t kTextOffset = kIfdOffset + 2 + 12 + 4;
  std::string tiff = "II" + LittleEndian(42, 2) + LittleEndian(kIfdOffset, 4);
  tiff += LittleEndian(1, 2);
  tiff += LittleEndian(270, 2) + LittleEndian(2, 2) + LittleEndian(description.size() + 1, 4) +
          LittleEndian(kTextOffset, 4);
  tiff += LittleEndian(0, 4);
  return std::string("Exif\0\0", 6) + tiff + description + '\0';
}

}  // namespace

Result<std::string> EncodeMarkedJpeg(const cv::Mat& bgr, int quality, const std::string& note) {
  std::string file = image::EncodeJpeg(bgr, quality);
  if (file.size() < 4) {
    return Refuse(ErrorCode::kInternal, "simulate", "", "the picture could not be coded as JPEG",
                  "report this");
  }
  const std::string text = ("SIMULATED " + note).substr(0, kLongestNote);
  // After the start of image; readers take Exif before or after JFIF's own segment.
  const std::size_t app0 =
      file[2] == '\xff' && file[3] == '\xe0' && file.size() > 6
          ? 4 + static_cast<unsigned char>(file[4]) * 256u + static_cast<unsigned char>(file[5])
          : 2;
  if (app0 > file.size()) {
    return Refuse(ErrorCode::kInternal, "simulate", "", "the coded JPEG has a damaged header",
                  "report this");
  }
  file.insert(app0, MarkerSegment(0xe1, ExifPayload(text)) + MarkerSegment(0xfe, text));
  return file;
}

}  // namespace debossier::simulate
