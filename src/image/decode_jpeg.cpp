// JPEG through libjpeg-turbo: colour, grey, and the four inks of CMYK and YCCK files.
#include <csetjmp>
#include <cstdio>
// jpeglib.h wants cstdio before it.
#include <jerror.h>
#include <jpeglib.h>

#include "image/pixels.h"

namespace debossier::image {

namespace {

struct ErrorHandler {
  jpeg_error_mgr base;
  std::jmp_buf jump;
};

[[noreturn]] void Leave(j_common_ptr info) {
  std::longjmp(reinterpret_cast<ErrorHandler*>(info->err)->jump, 1);
}

/// Warnings of libjpeg stand for picture data that had to be made up, or for stray bytes between
/// segments; only the first kind ends the decoding.
void TakeMessage(j_common_ptr info, int level) {
  if (level >= 0) return;
  const int code = info->err->msg_code;
  if (code == JWRN_JPEG_EOF || code == JWRN_HIT_MARKER || code == JWRN_HUFF_BAD_CODE) Leave(info);
}

void PrintNothing(j_common_ptr) {}

/// Four inks as Adobe writes them (inverted: 255 is no ink), or as T.81 files without Adobe's
/// segment have them. No ICC profile is applied: ink that is there darkens its colour in
/// proportion, which is enough to tell foil from ground.
void InksToBgr(const cv::Mat& inks, bool inverted, cv::Mat& bgr) {
  for (int y = 0; y < inks.rows; ++y) {
    const auto* from = inks.ptr<cv::Vec4b>(y);
    auto* to = bgr.ptr<cv::Vec3b>(y);
    for (int x = 0; x < inks.cols; ++x) {
      const int light = inverted ? from[x][3] : 255 - from[x][3];
      for (int c = 0; c < 3; ++c) {
        const int share = inverted ? from[x][2 - c] : 255 - from[x][2 - c];
        to[x][c] = static_cast<std::uint8_t>((share * light + 127) / 255);
      }
    }
  }
}

/// The part between setjmp() and longjmp(): no objects with destructors live here.
bool ReadRows(const std::string& bytes, jpeg_decompress_struct& info, ErrorHandler& errors,
              cv::Mat& bgr, cv::Mat& inks) {
  if (setjmp(errors.jump) != 0) return false;
  jpeg_mem_src(&info, reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size());
  if (jpeg_read_header(&info, TRUE) != JPEG_HEADER_OK) return false;
  if (static_cast<int>(info.image_width) != bgr.cols ||
      static_cast<int>(info.image_height) != bgr.rows) {
    return false;
  }
  const bool has_inks = info.num_components == 4;
  info.out_color_space = has_inks ? JCS_CMYK : JCS_EXT_BGR;
  info.dct_method = JDCT_ISLOW;
  if (has_inks) inks.create(bgr.size(), CV_8UC4);
  jpeg_start_decompress(&info);
  if (info.output_components != (has_inks ? 4 : 3)) return false;
  cv::Mat& rows = has_inks ? inks : bgr;
  while (info.output_scanline < info.output_height) {
    JSAMPROW row = rows.ptr(static_cast<int>(info.output_scanline));
    if (jpeg_read_scanlines(&info, &row, 1) != 1) return false;
  }
  // What follows the last row (previews, short films of phones) is not read.
  if (has_inks) InksToBgr(inks, info.saw_Adobe_marker == TRUE, bgr);
  return true;
}

}  // namespace

cv::Mat DecodeJpeg(const std::string& bytes, cv::Size size) {
  cv::Mat bgr(size, CV_8UC3);
  cv::Mat inks;
  jpeg_decompress_struct info{};
  ErrorHandler errors{};
  info.err = jpeg_std_error(&errors.base);
  errors.base.error_exit = Leave;
  errors.base.emit_message = TakeMessage;
  errors.base.output_message = PrintNothing;
  // Creation itself may fail for want of memory.
  if (setjmp(errors.jump) != 0) {
    jpeg_destroy_decompress(&info);
    return {};
  }
  jpeg_create_decompress(&info);
  const bool done = ReadRows(bytes, info, errors, bgr, inks);
  jpeg_destroy_decompress(&info);
  return done ? bgr : cv::Mat();
}

}  // namespace debossier::image
