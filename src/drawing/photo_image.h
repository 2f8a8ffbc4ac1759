// The photo as a picture in the PDF, embedded once and drawn as often as needed.
//
// A JPEG file of the common kinds goes in unchanged, byte for byte, and the drawing matrix undoes
// its EXIF turn. Other formats, and JPEG kinds that PDF readers do not agree on (CMYK, 12 bit,
// arithmetic or lossless coding), go in as decoded pixels: the part around the lettering, and the
// whole photo in small. Pixels of a HEIC photo, which were coded with loss before, go in as JPEG:
// at most kMostJpegBytes each. Frame: upright photo pixels, pixel (0, 0) with its centre at (0, 0).
#pragma once

#include <cairo.h>

#include <memory>
#include <opencv2/core.hpp>

#include "image/photo.h"
#include "outline/outline.h"

namespace debossier::report {

constexpr std::size_t kMostJpegBytes = 1'200'000;

class PhotoImage {
 public:
  /// `region` is the part of the photo that pages show enlarged; empty: all of it.
  /// @pre `photo` outlives this object and the document it is drawn into.
  PhotoImage(const image::Photo& photo, const outline::Box& region);

  /// Another picture, as a JPEG file. @pre `bgr` is CV_8UC3.
  explicit PhotoImage(const cv::Mat& bgr);

  /// Draws the photo (or the region, where that is all there is) within the current clip.
  void Draw(cairo_t* cr, const outline::Affine& page_from_photo) const;
  /// Draws the whole photo, coarser where the file is not embedded.
  void DrawWhole(cairo_t* cr, const outline::Affine& page_from_photo) const;

  bool is_file() const { return is_file_; }
  int width() const { return width_; }
  int height() const { return height_; }

 private:
  struct Free {
    void operator()(cairo_surface_t* p) const { cairo_surface_destroy(p); }
  };
  struct Picture {
    std::unique_ptr<cairo_surface_t, Free> surface;
    outline::Affine photo_from_picture;  ///< From picture edges (0..width) to photo pixels.
  };
  static Picture FromFile(const image::Photo& photo);
  static Picture FromPixels(const cv::Mat& bgr, const cv::Rect& part, double max_pixels);
  /// Gives the picture's pixels a JPEG file to go into the document instead of them.
  static void Compress(const Picture& picture);
  static void Paint(cairo_t* cr, const Picture& picture, const outline::Affine& page_from_photo);

  bool is_file_ = false;
  int width_ = 0;
  int height_ = 0;
  Picture region_;
  Picture whole_;  ///< Empty where the region is all or the file is embedded.
};

}  // namespace debossier::report
