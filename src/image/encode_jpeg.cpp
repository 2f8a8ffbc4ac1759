#include "image/encode_jpeg.h"

#include <algorithm>
#include <csetjmp>
#include <cstdio>
#include <cstdlib>
// jpeglib.h wants cstdio before it.
#include <jpeglib.h>

namespace debossier::image {
namespace {

struct ErrorHandler {
  jpeg_error_mgr base;
  std::jmp_buf jump;
};

[[noreturn]] void Leave(j_common_ptr info) {
  std::longjmp(reinterpret_cast<ErrorHandler*>(info->err)->jump, 1);
}

void PrintNothing(j_common_ptr) {}

/// The part between setjmp() and longjmp(): no objects with destructors live here.
bool WriteRows(const cv::Mat& bgr, int quality, jpeg_compress_struct& info, ErrorHandler& errors,
               unsigned char*& coded, unsigned long& size) {
  if (setjmp(errors.jump) != 0) return false;
  jpeg_create_compress(&info);
  jpeg_mem_dest(&info, &coded, &size);
  info.image_width = static_cast<JDIMENSION>(bgr.cols);
  info.image_height = static_cast<JDIMENSION>(bgr.rows);
  info.input_components = 3;
  info.in_color_space = JCS_EXT_BGR;
  jpeg_set_defaults(&info);  // 4:2:0 for colour
  jpeg_set_quality(&info, quality, TRUE);
  jpeg_start_compress(&info, TRUE);
  while (info.next_scanline < info.image_height) {
    JSAMPROW row = const_cast<JSAMPROW>(bgr.ptr(static_cast<int>(info.next_scanline)));
    jpeg_write_scanlines(&info, &row, 1);
  }
  jpeg_finish_compress(&info);
  return true;
}

}  // namespace

std::string EncodeJpeg(const cv::Mat& bgr, int quality) {
  if (bgr.type() != CV_8UC3 || bgr.empty()) return {};
  jpeg_compress_struct info{};
  ErrorHandler errors{};
  info.err = jpeg_std_error(&errors.base);
  errors.base.error_exit = Leave;
  errors.base.output_message = PrintNothing;
  unsigned char* coded = nullptr;
  unsigned long size = 0;
  const bool done = WriteRows(bgr, std::clamp(quality, 1, 100), info, errors, coded, size);
  jpeg_destroy_compress(&info);
  std::string file;
  if (done) file.assign(reinterpret_cast<const char*>(coded), size);
  std::free(coded);
  return file;
}

}  // namespace debossier::image
