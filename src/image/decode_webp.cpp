// WebP through libwebp.
#include <webp/decode.h>

#include "image/pixels.h"

namespace debossier::image {

cv::Mat DecodeWebp(const std::string& bytes, cv::Size size) {
  const auto* data = reinterpret_cast<const std::uint8_t*>(bytes.data());
  WebPBitstreamFeatures features;
  if (WebPGetFeatures(data, bytes.size(), &features) != VP8_STATUS_OK || features.has_animation ||
      features.width != size.width || features.height != size.height) {
    return {};
  }
  cv::Mat picture(size, features.has_alpha ? CV_8UC4 : CV_8UC3);
  const std::size_t room = picture.total() * picture.elemSize();
  const int stride = static_cast<int>(picture.step);
  if (features.has_alpha) {
    const bool done = WebPDecodeBGRAInto(data, bytes.size(), picture.data, room, stride) != nullptr;
    return done ? OverMidGrey(picture, Alpha::kStraight) : cv::Mat();
  }
  const bool done = WebPDecodeBGRInto(data, bytes.size(), picture.data, room, stride) != nullptr;
  return done ? picture : cv::Mat();
}

}  // namespace debossier::image
