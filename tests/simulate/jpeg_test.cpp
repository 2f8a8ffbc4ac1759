#include "simulate/jpeg.h"

#include <gtest/gtest.h>

#include <map>
#include <opencv2/imgcodecs.hpp>
#include <vector>

namespace debossier::simulate {
namespace {

/// Payloads of the marker segments before the scan, by marker code (ITU-T T.81 B.1.1.4).
std::multimap<int, std::string> Segments(const std::string& file) {
  std::multimap<int, std::string> segments;
  std::size_t at = 2;
  while (at + 4 <= file.size() && static_cast<unsigned char>(file[at]) == 0xff) {
    const int code = static_cast<unsigned char>(file[at + 1]);
    if (code == 0xda) break;
    const std::size_t length =
        static_cast<unsigned char>(file[at + 2]) * 256u + static_cast<unsigned char>(file[at + 3]);
    segments.emplace(code, file.substr(at + 4, length - 2));
    at += 2 + length;
  }
  return segments;
}

TEST(MarkedJpeg, SaysSimulatedInCommentAndExif) {
  cv::Mat picture(40, 60, CV_8UC3, cv::Scalar(40, 90, 160));
  const auto file = EncodeMarkedJpeg(picture, 95, "by a test");
  ASSERT_TRUE(file);
  const auto segments = Segments(*file);
  ASSERT_EQ(segments.count(0xfe), 1u);
  EXPECT_EQ(segments.find(0xfe)->second, "SIMULATED by a test");
  ASSERT_EQ(segments.count(0xe1), 1u);
  const std::string exif = segments.find(0xe1)->second;
  ASSERT_EQ(exif.substr(0, 6), std::string("Exif\0\0", 6));
  const std::string tiff = exif.substr(6);
  EXPECT_EQ(tiff.substr(0, 4), std::string("II*\0", 4));
  // One entry: tag 270, type 2 (ASCII), count with the closing zero, then the text's offset.
  EXPECT_EQ(static_cast<unsigned char>(tiff[10]) + 256 * static_cast<unsigned char>(tiff[11]), 270);
  EXPECT_EQ(tiff[12], 2);
  EXPECT_EQ(static_cast<std::size_t>(tiff[14]), std::string("SIMULATED by a test").size() + 1);
  const auto offset = static_cast<std::size_t>(static_cast<unsigned char>(tiff[18]));
  EXPECT_EQ(std::string(tiff.c_str() + offset), "SIMULATED by a test");
}

TEST(MarkedJpeg, StillDecodes) {
  cv::Mat picture(40, 60, CV_8UC3, cv::Scalar(40, 90, 160));
  const auto file = EncodeMarkedJpeg(picture, 95, std::string(100000, 'x'));
  ASSERT_TRUE(file);
  const std::vector<char> bytes(file->begin(), file->end());
  const cv::Mat decoded = cv::imdecode(bytes, cv::IMREAD_COLOR);
  ASSERT_EQ(decoded.size(), picture.size());
  EXPECT_NEAR(decoded.at<cv::Vec3b>(20, 30)[2], 160, 3);
}

}  // namespace
}  // namespace debossier::simulate
