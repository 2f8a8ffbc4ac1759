// PNG through libpng: all depths and colour types, alpha and transparent colours.
#include <png.h>

#include <algorithm>
#include <csetjmp>
#include <cstring>
#include <vector>

#include "image/pixels.h"

namespace debossier::image {

namespace {

/// The most that one chunk beside the pixels (a profile, a text) may unfold to.
constexpr png_alloc_size_t kMostInAChunk = 16u << 20;

struct Source {
  const char* at;
  std::size_t left;
};

void Read(png_structp png, png_bytep to, png_size_t size) {
  auto& source = *static_cast<Source*>(png_get_io_ptr(png));
  if (size > source.left) png_error(png, "ends early");
  std::memcpy(to, source.at, size);
  source.at += size;
  source.left -= size;
}

[[noreturn]] void Leave(png_structp png, png_const_charp) { png_longjmp(png, 1); }
void PrintNothing(png_structp, png_const_charp) {}

/// The part between setjmp() and longjmp(): no objects with destructors live here.
bool ReadRows(png_structp png, png_infop info, Source& source, cv::Mat& bgra,
              std::vector<png_bytep>& rows) {
  if (setjmp(png_jmpbuf(png)) != 0) return false;
  png_set_read_fn(png, &source, Read);
  png_set_user_limits(png, static_cast<png_uint_32>(bgra.cols),
                      static_cast<png_uint_32>(bgra.rows));
  png_set_chunk_malloc_max(png, kMostInAChunk);
  png_read_info(png, info);
  if (static_cast<int>(png_get_image_width(png, info)) != bgra.cols ||
      static_cast<int>(png_get_image_height(png, info)) != bgra.rows) {
    return false;
  }
  png_set_scale_16(png);
  png_set_expand(png);
  png_set_gray_to_rgb(png);
  png_set_bgr(png);
  png_set_add_alpha(png, 255, PNG_FILLER_AFTER);
  png_set_interlace_handling(png);
  png_read_update_info(png, info);
  if (png_get_rowbytes(png, info) != static_cast<png_size_t>(bgra.cols) * 4) return false;
  png_read_image(png, rows.data());
  png_read_end(png, nullptr);
  return true;
}

}  // namespace

cv::Mat DecodePng(const std::string& bytes, cv::Size size) {
  cv::Mat bgra(size, CV_8UC4);
  std::vector<png_bytep> rows(static_cast<std::size_t>(size.height));
  for (int y = 0; y < size.height; ++y) rows[static_cast<std::size_t>(y)] = bgra.ptr(y);
  Source source{bytes.data(), bytes.size()};
  png_structp png = png_create_read_struct(PNG_LIBPNG_VER_STRING, nullptr, Leave, PrintNothing);
  if (png == nullptr) return {};
  png_infop info = png_create_info_struct(png);
  const bool done = info != nullptr && ReadRows(png, info, source, bgra, rows);
  png_destroy_read_struct(&png, &info, nullptr);
  return done ? OverMidGrey(bgra, Alpha::kStraight) : cv::Mat();
}

}  // namespace debossier::image
