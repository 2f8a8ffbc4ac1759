#include "image/decode.h"

#include <algorithm>
#include <cstring>
#include <exception>
#include <mutex>
#include <opencv2/core/utils/logger.hpp>
#include <opencv2/imgcodecs.hpp>
#include <optional>

#include "image/picture_file.h"
#include "image/tiff_fields.h"

namespace debossier::image {

namespace {

constexpr int kMidGrey = 128;

/// How the alpha channel of a decoded picture is meant.
enum class Alpha { kStraight, kPremultiplied };

struct Plan {
  int flags = cv::IMREAD_COLOR | cv::IMREAD_IGNORE_ORIENTATION;
  Alpha alpha = Alpha::kStraight;
};

/// TIFF 6.0, section 18: ExtraSamples 1 is associated (premultiplied) alpha, 2 is not. libtiff
/// hands out 8-bit colours premultiplied in both cases.
Plan PlanForTiff(std::string_view bytes) {
  constexpr std::uint16_t kBitsPerSample = 258;
  constexpr std::uint16_t kPhotometric = 262;
  constexpr std::uint16_t kSamplesPerPixel = 277;
  constexpr std::uint16_t kExtraSamples = 338;
  constexpr std::uint32_t kRgb = 2;
  Plan plan;
  const auto fields = TiffFields::Read(bytes);
  if (!fields || fields->Value(kPhotometric) != kRgb || fields->Value(kSamplesPerPixel) != 4u) {
    return plan;
  }
  plan.flags = cv::IMREAD_UNCHANGED;
  const std::uint32_t extra = fields->Value(kExtraSamples).value_or(0);
  if (extra == 1 || (extra == 2 && fields->Value(kBitsPerSample) == 8u)) {
    plan.alpha = Alpha::kPremultiplied;
  }
  return plan;
}

Plan PlanFor(const std::string& bytes, Format format) {
  if (format == Format::kJpeg) return {};
  if (format == Format::kTiff) return PlanForTiff(bytes);
  return {cv::IMREAD_UNCHANGED, Alpha::kStraight};
}

/// The decoder turns some TIFF files by itself; with orientation 1 in a copy it turns none.
std::optional<std::string> UnturnedTiff(const std::string& bytes, const Header& header) {
  constexpr std::uint16_t kOrientation = 274;
  if (header.format != Format::kTiff || header.exif_orientation == 1) return std::nullopt;
  const auto fields = TiffFields::Read(bytes);
  const auto place = fields ? fields->Where(kOrientation) : std::nullopt;
  if (!place || !Slice(bytes, place->offset, static_cast<std::uint64_t>(place->size))) {
    return std::nullopt;
  }
  std::string copy = bytes;
  std::memset(copy.data() + place->offset, 0, static_cast<std::size_t>(place->size));
  const bool big = fields->ByteOrder() == Endian::kBig;
  copy[place->offset + static_cast<std::uint64_t>(big ? place->size - 1 : 0)] = 1;
  return copy;
}

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

/// CV_8UC3 of a decoded picture; an empty picture where decoding failed, and for depths and
/// channels that photos do not have.
cv::Mat Bgr8(cv::Mat picture, Alpha alpha) {
  if (picture.empty()) return {};
  if (picture.depth() == CV_16U) picture.convertTo(picture, CV_8U, 1.0 / 257);
  if (picture.depth() != CV_8U) return {};
  switch (picture.channels()) {
    case 1: {
      cv::Mat bgr;
      cv::merge(std::vector<cv::Mat>(3, picture), bgr);
      return bgr;
    }
    case 3:
      return picture;
    case 4:
      return OverMidGrey(picture, alpha);
    default:
      return {};
  }
}

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

/// OpenCV prints warnings, and every exception before it throws it; here each becomes a refusal.
void KeepOpenCvQuiet() {
  static std::once_flag once;
  std::call_once(once, [] {
    cv::utils::logging::setLogLevel(cv::utils::logging::LOG_LEVEL_SILENT);
    cv::redirectError([](int, const char*, const char*, const char*, int, void*) { return 0; });
  });
}

}  // namespace

Result<cv::Mat> Decode(const std::string& bytes, const Header& header, const std::string& where) {
  KeepOpenCvQuiet();
  cv::Mat bgr;
  try {
    const Plan plan = PlanFor(bytes, header.format);
    const std::optional<std::string> unturned = UnturnedTiff(bytes, header);
    const std::string& source = unturned ? *unturned : bytes;
    // A view: imdecode() does not write into its input.
    const cv::Mat view(1, static_cast<int>(source.size()), CV_8U, const_cast<char*>(source.data()));
    bgr = Bgr8(cv::imdecode(view, plan.flags), plan.alpha);
  } catch (const std::bad_alloc&) {
    return Refuse(ErrorCode::kOverLimit, "image", where, "needs more memory than there is",
                  "scale the photo down or close other programs");
  } catch (const std::exception&) {
    bgr.release();
  }
  if (bgr.empty()) {
    return Damaged(where, "the picture data is damaged or of a kind that is not read here");
  }
  if (bgr.cols != header.width || bgr.rows != header.height) {
    return Damaged(where, "the picture data has another size than the header says");
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
