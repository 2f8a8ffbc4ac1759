// TIFF through libtiff: its picture of red, green, blue and alpha, whatever the file stores.
#include <tiffio.h>

#include <algorithm>
#include <cstring>
#include <memory>
#include <vector>

#include "image/pixels.h"

namespace debossier::image {

namespace {

/// The most that libtiff may take at once; a strip of the largest accepted picture fits.
constexpr tmsize_t kMostAtOnce = tmsize_t{512} << 20;

struct Source {
  const std::string& bytes;
  toff_t at = 0;
};

tmsize_t Read(thandle_t handle, void* to, tmsize_t size) {
  auto& source = *static_cast<Source*>(handle);
  if (size <= 0 || source.at >= source.bytes.size()) return 0;
  const auto take =
      std::min(static_cast<std::size_t>(size), source.bytes.size() - std::size_t{source.at});
  std::memcpy(to, source.bytes.data() + source.at, take);
  source.at += take;
  return static_cast<tmsize_t>(take);
}

tmsize_t WriteNothing(thandle_t, void*, tmsize_t) { return 0; }

toff_t Seek(thandle_t handle, toff_t offset, int whence) {
  auto& source = *static_cast<Source*>(handle);
  if (whence == SEEK_CUR) {
    source.at += offset;
  } else {
    source.at = whence == SEEK_END ? source.bytes.size() + offset : offset;
  }
  return source.at;
}

int Close(thandle_t) { return 0; }
toff_t Size(thandle_t handle) { return static_cast<Source*>(handle)->bytes.size(); }

int TakeMessage(TIFF*, void*, const char*, const char*, va_list) { return 1; }

using File = std::unique_ptr<TIFF, decltype(&TIFFClose)>;

File Open(Source& source) {
  std::unique_ptr<TIFFOpenOptions, decltype(&TIFFOpenOptionsFree)> options(TIFFOpenOptionsAlloc(),
                                                                           &TIFFOpenOptionsFree);
  if (!options) return {nullptr, &TIFFClose};
  TIFFOpenOptionsSetMaxSingleMemAlloc(options.get(), kMostAtOnce);
  TIFFOpenOptionsSetErrorHandlerExtR(options.get(), TakeMessage, nullptr);
  TIFFOpenOptionsSetWarningHandlerExtR(options.get(), TakeMessage, nullptr);
  return {TIFFClientOpenExt("photo", "rm", &source, Read, WriteNothing, Seek, Close, Size, nullptr,
                            nullptr, options.get()),
          &TIFFClose};
}

/// Copies `rows` rows of the raster, whose first row is the lowest, into `bgra` at (`left`, `top`),
/// as far as they lie in it.
void Place(const std::vector<std::uint32_t>& raster, int width, int rows, int left, int top,
           cv::Mat& bgra) {
  for (int y = 0; y < std::min(rows, bgra.rows - top); ++y) {
    const std::uint32_t* from =
        raster.data() + static_cast<std::size_t>(rows - 1 - y) * static_cast<std::size_t>(width);
    auto* to = bgra.ptr<cv::Vec4b>(top + y) + left;
    for (int x = 0; x < std::min(width, bgra.cols - left); ++x) {
      to[x] = cv::Vec4b(TIFFGetB(from[x]), TIFFGetG(from[x]), TIFFGetR(from[x]), TIFFGetA(from[x]));
    }
  }
}

bool ReadStrips(TIFF* file, cv::Mat& bgra) {
  std::uint32_t rows = 0;
  TIFFGetFieldDefaulted(file, TIFFTAG_ROWSPERSTRIP, &rows);
  rows = std::min(rows, static_cast<std::uint32_t>(bgra.rows));
  if (rows == 0) return false;
  std::vector<std::uint32_t> raster(static_cast<std::size_t>(bgra.cols) * rows);
  for (int top = 0; top < bgra.rows; top += static_cast<int>(rows)) {
    if (!TIFFReadRGBAStripExt(file, static_cast<std::uint32_t>(top), raster.data(), 1)) {
      return false;
    }
    // The last strip is put into the raster as if the picture ended with it.
    Place(raster, bgra.cols, std::min(static_cast<int>(rows), bgra.rows - top), 0, top, bgra);
  }
  return true;
}

bool ReadTiles(TIFF* file, cv::Mat& bgra) {
  std::uint32_t width = 0;
  std::uint32_t height = 0;
  TIFFGetField(file, TIFFTAG_TILEWIDTH, &width);
  TIFFGetField(file, TIFFTAG_TILELENGTH, &height);
  constexpr std::uint32_t kLargestTile = 16'384;
  if (width == 0 || height == 0 || width > kLargestTile || height > kLargestTile) return false;
  std::vector<std::uint32_t> raster(static_cast<std::size_t>(width) * height);
  for (int top = 0; top < bgra.rows; top += static_cast<int>(height)) {
    for (int left = 0; left < bgra.cols; left += static_cast<int>(width)) {
      if (!TIFFReadRGBATileExt(file, static_cast<std::uint32_t>(left),
                               static_cast<std::uint32_t>(top), raster.data(), 1)) {
        return false;
      }
      Place(raster, static_cast<int>(width), static_cast<int>(height), left, top, bgra);
    }
  }
  return true;
}

/// How alpha will come out. libtiff multiplies colours by an alpha of their own (TIFF 6.0, section
/// 18: ExtraSamples 2), which costs dark pixels their precision; told that it was done already, it
/// hands them out as stored.
Alpha KeepAlphaAsStored(TIFF* file) {
  std::uint16_t count = 0;
  std::uint16_t* kinds = nullptr;
  const bool has_alpha = TIFFGetField(file, TIFFTAG_EXTRASAMPLES, &count, &kinds) == 1 &&
                         count == 1 && kinds != nullptr;
  if (!has_alpha || kinds[0] == EXTRASAMPLE_ASSOCALPHA) return Alpha::kPremultiplied;
  std::uint16_t done = EXTRASAMPLE_ASSOCALPHA;
  TIFFSetField(file, TIFFTAG_EXTRASAMPLES, 1, &done);
  return Alpha::kStraight;
}

}  // namespace

cv::Mat DecodeTiff(const std::string& bytes, cv::Size size) {
  Source source{bytes};
  const File file = Open(source);
  if (!file) return {};
  std::uint32_t width = 0;
  std::uint32_t height = 0;
  TIFFGetField(file.get(), TIFFTAG_IMAGEWIDTH, &width);
  TIFFGetField(file.get(), TIFFTAG_IMAGELENGTH, &height);
  if (static_cast<int>(width) != size.width || static_cast<int>(height) != size.height) return {};
  // As stored: the turn is applied later, for all formats alike.
  TIFFSetField(file.get(), TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT);
  const Alpha alpha = KeepAlphaAsStored(file.get());
  cv::Mat bgra(size, CV_8UC4);
  const bool done =
      TIFFIsTiled(file.get()) ? ReadTiles(file.get(), bgra) : ReadStrips(file.get(), bgra);
  return done ? OverMidGrey(bgra, alpha) : cv::Mat();
}

}  // namespace debossier::image
