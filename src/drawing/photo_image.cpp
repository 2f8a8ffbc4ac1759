#include "drawing/photo_image.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "base/files.h"
#include "drawing/embeddable.h"
#include "image/blocks.h"
#include "image/encode_jpeg.h"

namespace debossier::report {
namespace {

constexpr double kMaxRegionPixels = 1.5e6;  // about 190 px a cap height around a usual lettering
constexpr double kMaxSmallPixels = 1e5;

// Photo pixels (centres at whole numbers) from stored picture edges, by TIFF/EXIF tag 274.
outline::Affine UprightFromStored(int orientation, double w, double h) {
  outline::Affine map;
  switch (orientation) {
    case 2:
      map.linear << -1, 0, 0, 1;
      map.offset = {w, 0};
      break;
    case 3:
      map.linear << -1, 0, 0, -1;
      map.offset = {w, h};
      break;
    case 4:
      map.linear << 1, 0, 0, -1;
      map.offset = {0, h};
      break;
    case 5:
      map.linear << 0, 1, 1, 0;
      break;
    case 6:
      map.linear << 0, -1, 1, 0;
      map.offset = {h, 0};
      break;
    case 7:
      map.linear << 0, -1, -1, 0;
      map.offset = {h, w};
      break;
    case 8:
      map.linear << 0, 1, -1, 0;
      map.offset = {0, w};
      break;
    default:
      break;
  }
  map.offset -= outline::Point(0.5, 0.5);
  return map;
}

cv::Rect Whole(const cv::Mat& bgr) { return {0, 0, bgr.cols, bgr.rows}; }

cv::Rect PixelsOf(const outline::Box& region, const cv::Mat& bgr) {
  if (region.empty()) return Whole(bgr);
  const auto side = [](double v, int most) {
    return static_cast<int>(std::clamp(v, 0.0, double(most)));
  };
  const int x0 = side(std::floor(region.min.x()), bgr.cols);
  const int y0 = side(std::floor(region.min.y()), bgr.rows);
  const int x1 = side(std::ceil(region.max.x()) + 1, bgr.cols);
  const int y1 = side(std::ceil(region.max.y()) + 1, bgr.rows);
  if (x1 - x0 < 1 || y1 - y0 < 1) return Whole(bgr);
  return {x0, y0, x1 - x0, y1 - y0};
}

// Mean of each block of `step` by `step` pixels, as Cairo's 32-bit pixels.
void AverageBlocks(const cv::Mat& bgr, int step, unsigned char* pixels, int stride) {
  const cv::Mat means = image::BlockMeans(bgr, step);
  for (int y = 0; y < means.rows; ++y) {
    auto* row = reinterpret_cast<std::uint32_t*>(pixels + static_cast<std::size_t>(y) * stride);
    const auto* from = means.ptr<cv::Vec3b>(y);
    for (int x = 0; x < means.cols; ++x) {
      row[x] = static_cast<std::uint32_t>(from[x][2] << 16 | from[x][1] << 8 | from[x][0]);
    }
  }
}

// Data of a kind that the surface then owns; false where there is no room for it.
bool Attach(cairo_surface_t* surface, const char* kind, std::unique_ptr<std::string> data) {
  const auto forget = [](void* bytes) { delete static_cast<std::string*>(bytes); };
  std::string* bytes = data.release();
  if (cairo_surface_set_mime_data(surface, kind,
                                  reinterpret_cast<const unsigned char*>(bytes->data()),
                                  bytes->size(), forget, bytes) == CAIRO_STATUS_SUCCESS) {
    return true;
  }
  delete bytes;
  return false;
}

// One name for all uses of a picture, so that a document stores it once.
void SetName(cairo_surface_t* surface, const std::string& name) {
  Attach(surface, CAIRO_MIME_TYPE_UNIQUE_ID, std::make_unique<std::string>(name));
}

}  // namespace

PhotoImage::PhotoImage(const image::Photo& photo, const outline::Box& region)
    : is_file_(CanEmbedFile(photo)), width_(photo.bgr.cols), height_(photo.bgr.rows) {
  if (is_file_) {
    region_ = FromFile(photo);
    return;
  }
  const cv::Rect part = PixelsOf(region, photo.bgr);
  region_ = FromPixels(photo.bgr, part, kMaxRegionPixels);
  if (part != Whole(photo.bgr)) {
    whole_ = FromPixels(photo.bgr, Whole(photo.bgr), kMaxSmallPixels);
  }
  if (photo.header.format == image::Format::kHeic) {
    Compress(region_);
    if (whole_.surface) Compress(whole_);
  }
}

PhotoImage::PhotoImage(const cv::Mat& bgr) : width_(bgr.cols), height_(bgr.rows) {
  region_ = FromPixels(bgr, Whole(bgr), static_cast<double>(bgr.total()));
  Compress(region_);
}

PhotoImage::Picture PhotoImage::FromFile(const image::Photo& photo) {
  const int w = photo.header.width, h = photo.header.height;
  Picture picture;
  picture.photo_from_picture = UprightFromStored(photo.header.exif_orientation, w, h);
  // The pixels stay untouched zeros that the system never backs with memory: Cairo writes the
  // attached file instead.
  picture.surface.reset(cairo_image_surface_create(CAIRO_FORMAT_RGB24, w, h));
  const auto* data = reinterpret_cast<const unsigned char*>(photo.bytes.data());
  cairo_surface_set_mime_data(picture.surface.get(), CAIRO_MIME_TYPE_JPEG, data, photo.bytes.size(),
                              nullptr, nullptr);
  SetName(picture.surface.get(), photo.sha256);
  return picture;
}

PhotoImage::Picture PhotoImage::FromPixels(const cv::Mat& bgr, const cv::Rect& part,
                                           double max_pixels) {
  Picture picture;
  const double pixels = double(part.width) * part.height;
  const int least = std::min({part.width, part.height, 64});
  const int step =
      std::clamp(static_cast<int>(std::ceil(std::sqrt(pixels / max_pixels))), 1, least);
  picture.surface.reset(
      cairo_image_surface_create(CAIRO_FORMAT_RGB24, part.width / step, part.height / step));
  if (cairo_surface_status(picture.surface.get()) != CAIRO_STATUS_SUCCESS) return picture;
  cairo_surface_flush(picture.surface.get());
  AverageBlocks(bgr(part), step, cairo_image_surface_get_data(picture.surface.get()),
                cairo_image_surface_get_stride(picture.surface.get()));
  cairo_surface_mark_dirty(picture.surface.get());
  picture.photo_from_picture.linear *= step;
  picture.photo_from_picture.offset = {part.x - 0.5, part.y - 0.5};
  return picture;
}

void PhotoImage::Compress(const Picture& picture) {
  cairo_surface_t* surface = picture.surface.get();
  if (cairo_surface_status(surface) != CAIRO_STATUS_SUCCESS) return;
  cairo_surface_flush(surface);
  const cv::Mat pixels(cairo_image_surface_get_height(surface),
                       cairo_image_surface_get_width(surface), CV_8UC4,
                       cairo_image_surface_get_data(surface),
                       static_cast<std::size_t>(cairo_image_surface_get_stride(surface)));
  cv::Mat bgr;
  cv::cvtColor(pixels, bgr, cv::COLOR_BGRA2BGR);
  auto file = std::make_unique<std::string>();
  for (int quality = 92; quality >= 32 && (file->empty() || file->size() > kMostJpegBytes);
       quality -= 10) {
    *file = image::EncodeJpeg(bgr, quality);
  }
  if (file->empty()) return;
  const std::string name = Sha256Hex(*file);
  if (!Attach(surface, CAIRO_MIME_TYPE_JPEG, std::move(file))) return;
  SetName(surface, name);
}

void PhotoImage::Paint(cairo_t* cr, const Picture& picture,
                       const outline::Affine& page_from_photo) {
  const Eigen::Matrix2d linear = page_from_photo.linear * picture.photo_from_picture.linear;
  const outline::Point offset = page_from_photo * picture.photo_from_picture.offset;
  cairo_matrix_t matrix;
  cairo_matrix_init(&matrix, linear(0, 0), linear(1, 0), linear(0, 1), linear(1, 1), offset.x(),
                    offset.y());
  cairo_save(cr);
  cairo_transform(cr, &matrix);
  cairo_set_source_surface(cr, picture.surface.get(), 0, 0);
  cairo_paint(cr);
  cairo_restore(cr);
}

void PhotoImage::Draw(cairo_t* cr, const outline::Affine& page_from_photo) const {
  Paint(cr, region_, page_from_photo);
}

void PhotoImage::DrawWhole(cairo_t* cr, const outline::Affine& page_from_photo) const {
  Paint(cr, whole_.surface ? whole_ : region_, page_from_photo);
}

}  // namespace debossier::report
