#include "image/decode.h"

#include <algorithm>
#include <exception>
#include <new>

#include "image/picture_file.h"
#include "image/pixels.h"

namespace debossier::image {

namespace {

constexpr int kMidGrey = 128;

/// Rows become columns, the first one at the right where `from_right`, and columns become rows,
/// the first one at the bottom where `from_bottom`. Goes by squares that fit the cache: portrait
/// photos of phones are stored lying, and cv::transpose() takes nearly as long as decoding them.
cv::Mat Transposed(const cv::Mat& stored, bool from_right, bool from_bottom) {
  constexpr int kSquarePx = 32;
  cv::Mat turned(stored.cols, stored.rows, CV_8UC3);
  for (int top = 0; top < turned.rows; top += kSquarePx) {
    for (int left = 0; left < turned.cols; left += kSquarePx) {
      const int right = std::min(left + kSquarePx, turned.cols);
      for (int y = top; y < std::min(top + kSquarePx, turned.rows); ++y) {
        auto* to = turned.ptr<cv::Vec3b>(y);
        const int column = from_bottom ? stored.cols - 1 - y : y;
        for (int x = left; x < right; ++x) {
          const int row = from_right ? stored.rows - 1 - x : x;
          to[x] = stored.ptr<cv::Vec3b>(row)[column];
        }
      }
    }
  }
  return turned;
}

cv::Mat Pixels(const std::string& bytes, const Header& header) {
  const cv::Size size(header.width, header.height);
  switch (header.format) {
    case Format::kJpeg:
      return DecodeJpeg(bytes, size);
    case Format::kPng:
      return DecodePng(bytes, size);
    case Format::kTiff:
      return DecodeTiff(bytes, size);
    case Format::kWebp:
      return DecodeWebp(bytes, size);
    case Format::kHeic:
      return DecodeHeic(bytes, size);
  }
  return {};
}

}  // namespace

cv::Mat OverMidGrey(const cv::Mat& bgra, Alpha alpha) {
  cv::Mat bgr(bgra.size(), CV_8UC3);
  for (int y = 0; y < bgra.rows; ++y) {
    const auto* from = bgra.ptr<cv::Vec4b>(y);
    auto* to = bgr.ptr<cv::Vec3b>(y);
    for (int x = 0; x < bgra.cols; ++x) {
      const int a = from[x][3];
      const int weight = alpha == Alpha::kStraight ? a : 255;
      for (int c = 0; c < 3; ++c) {
        const int sum = from[x][c] * weight + kMidGrey * (255 - a);
        to[x][c] = static_cast<std::uint8_t>(std::min(255, (sum + 127) / 255));
      }
    }
  }
  return bgr;
}

Result<cv::Mat> Decode(const std::string& bytes, const Header& header, const std::string& where) {
  cv::Mat bgr;
  try {
    bgr = Pixels(bytes, header);
  } catch (const std::bad_alloc&) {
    return Refuse(ErrorCode::kOverLimit, "image", where, "needs more memory than there is",
                  "scale the photo down or close other programs");
  } catch (const std::exception&) {
    bgr.release();
  }
  if (bgr.empty()) {
    return Damaged(where, "the picture data is damaged or of a kind that is not read here");
  }
  return bgr;
}

cv::Mat Turned(cv::Mat stored, int exif_orientation) {
  switch (exif_orientation) {
    case 2:
      cv::flip(stored, stored, 1);
      return stored;
    case 3:
      cv::flip(stored, stored, -1);
      return stored;
    case 4:
      cv::flip(stored, stored, 0);
      return stored;
    case 5:
      return Transposed(stored, false, false);
    case 6:
      return Transposed(stored, true, false);
    case 7:
      return Transposed(stored, true, true);
    case 8:
      return Transposed(stored, false, true);
    default:
      return stored;
  }
}

}  // namespace debossier::image
