// Photos of every accepted kind come out upright and in true colour.
#include "image/photo.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
// jpeglib.h wants cstdio before it.
#include <jpeglib.h>

#include <utility>

#include "base/files.h"
#include "image/picture_bytes.h"
#include "image/picture_on_disk.h"

namespace debossier::image {
namespace {

using namespace testing;  // the builders of picture_bytes.h

constexpr int kWidth = 64;
constexpr int kHeight = 48;

/// Four quadrants of different colours: no two of the eight turns look alike.
cv::Mat KnownPicture() {
  cv::Mat picture(kHeight, kWidth, CV_8UC3, cv::Scalar(30, 40, 200));
  picture(cv::Rect(kWidth / 2, 0, kWidth / 2, kHeight / 2)) = cv::Scalar(200, 60, 30);
  picture(cv::Rect(0, kHeight / 2, kWidth / 2, kHeight / 2)) = cv::Scalar(40, 180, 60);
  picture(cv::Rect(kWidth / 2, kHeight / 2, kWidth / 2, kHeight / 2)) = cv::Scalar(220, 220, 220);
  return picture;
}

enum class Side { kTop, kRight, kBottom, kLeft };

/// EXIF 2.32, tag 274: "the 0th row is at the visual <first>, the 0th column at the visual
/// <second> of the image", for orientations 1 to 8.
constexpr std::array<std::pair<Side, Side>, 8> kRowAndColumnSides = {{
    {Side::kTop, Side::kLeft},
    {Side::kTop, Side::kRight},
    {Side::kBottom, Side::kRight},
    {Side::kBottom, Side::kLeft},
    {Side::kLeft, Side::kTop},
    {Side::kRight, Side::kTop},
    {Side::kRight, Side::kBottom},
    {Side::kLeft, Side::kBottom},
}};

/// The picture a camera stores so that `upright` is seen at `orientation`.
cv::Mat StoredFor(const cv::Mat& upright, int orientation) {
  const auto [row_side, column_side] =
      kRowAndColumnSides[static_cast<std::size_t>(orientation - 1)];
  const bool is_lying = row_side == Side::kLeft || row_side == Side::kRight;
  cv::Mat stored(is_lying ? upright.cols : upright.rows, is_lying ? upright.rows : upright.cols,
                 CV_8UC3);
  for (int row = 0; row < stored.rows; ++row) {
    for (int column = 0; column < stored.cols; ++column) {
      int x = 0;
      int y = 0;
      for (const auto& [side, index] : {std::pair(row_side, row), std::pair(column_side, column)}) {
        switch (side) {
          case Side::kTop:
            y = index;
            break;
          case Side::kBottom:
            y = upright.rows - 1 - index;
            break;
          case Side::kLeft:
            x = index;
            break;
          case Side::kRight:
            x = upright.cols - 1 - index;
            break;
        }
      }
      stored.at<cv::Vec3b>(row, column) = upright.at<cv::Vec3b>(y, x);
    }
  }
  return stored;
}

/// Mean absolute difference over all pixels and channels, in grey levels.
double MeanDifference(const cv::Mat& a, const cv::Mat& b) {
  return cv::norm(a, b, cv::NORM_L1) / (static_cast<double>(a.total()) * a.channels());
}

void ExpectPicture(const std::string& bytes, const cv::Mat& expected, double tolerance) {
  const PictureOnDisk file(bytes);
  const auto photo = LoadPhoto(file.Path());
  ASSERT_TRUE(photo) << photo.error().ToString();
  ASSERT_EQ(photo->bgr.type(), CV_8UC3);
  ASSERT_EQ(photo->bgr.size(), expected.size());
  EXPECT_LE(MeanDifference(photo->bgr, expected), tolerance);
}

class Orientation : public ::testing::TestWithParam<int> {};

TEST_P(Orientation, OfJpegIsApplied) {
  const cv::Mat stored = StoredFor(KnownPicture(), GetParam());
  const std::string jpeg = Encoded(".jpg", stored, {cv::IMWRITE_JPEG_QUALITY, 100});
  for (const bool big : {false, true}) {
    ExpectPicture(JpegWithExif(jpeg, Exif(GetParam(), 26, big)), KnownPicture(), 2.5);
  }
}

TEST_P(Orientation, OfPngIsApplied) {
  const std::string png = Encoded(".png", StoredFor(KnownPicture(), GetParam()));
  ExpectPicture(PngWithExif(png, Exif(GetParam(), 26, true)), KnownPicture(), 0);
}

TEST_P(Orientation, OfWebpIsApplied) {
  const cv::Mat stored = StoredFor(KnownPicture(), GetParam());
  const std::string webp = Encoded(".webp", stored, {cv::IMWRITE_WEBP_QUALITY, 101});
  ExpectPicture(WebpWithExif(webp, stored.size(), Exif(GetParam(), 26, false)), KnownPicture(), 0);
}

TEST_P(Orientation, OfTiffIsApplied) {
  const cv::Mat stored = StoredFor(KnownPicture(), GetParam());
  for (const bool big : {false, true}) {
    ExpectPicture(Tiff(stored, {.big = big, .orientation = GetParam()}), KnownPicture(), 0);
  }
}

TEST_P(Orientation, OfSixteenBitTiffIsApplied) {
  cv::Mat stored;
  StoredFor(KnownPicture(), GetParam()).convertTo(stored, CV_16U, 257);
  ExpectPicture(Tiff(stored, {.orientation = GetParam()}), KnownPicture(), 0);
}

INSTANTIATE_TEST_SUITE_P(OneToEight, Orientation, ::testing::Range(1, 9));

TEST(PhotoTest, OrientationOutsideTheStandardIsLeftOut) {
  const std::string jpeg = Encoded(".jpg", KnownPicture(), {cv::IMWRITE_JPEG_QUALITY, 100});
  for (const int orientation : {0, 9, 65535}) {
    ExpectPicture(JpegWithExif(jpeg, Exif(orientation, 26, false)), KnownPicture(), 2.5);
  }
}

TEST(PhotoTest, HeaderHoldsWhatTheFileSays) {
  const std::string bytes = JpegWithExif(Encoded(".jpg", KnownPicture()), Exif(6, 26, true));
  const auto header = ReadHeader(bytes, "x.jpg");
  ASSERT_TRUE(header);
  EXPECT_EQ(header->format, Format::kJpeg);
  EXPECT_EQ(header->width, kWidth);
  EXPECT_EQ(header->height, kHeight);
  EXPECT_EQ(header->exif_orientation, 6);
  EXPECT_EQ(header->focal_length_35mm, 26.0);
  // EXIF 2.32: a focal length of 0 means unknown.
  const auto unknown =
      ReadHeader(JpegWithExif(Encoded(".jpg", KnownPicture()), Exif(1, 0, true)), "x.jpg");
  ASSERT_TRUE(unknown);
  EXPECT_FALSE(unknown->focal_length_35mm);
}

TEST(PhotoTest, NameBytesAndHashAreThoseOfTheFile) {
  const std::string bytes = Encoded(".png", KnownPicture());
  const PictureOnDisk file(bytes);
  const auto photo = LoadPhoto(file.Path());
  ASSERT_TRUE(photo);
  EXPECT_EQ(photo->file, file.Path().filename().string());
  EXPECT_EQ(photo->bytes, bytes);
  EXPECT_EQ(photo->sha256, Sha256Hex(bytes));
}

TEST(PhotoTest, LosslessFormatsKeepEveryPixel) {
  ExpectPicture(Encoded(".png", KnownPicture()), KnownPicture(), 0);
  ExpectPicture(Encoded(".tiff", KnownPicture()), KnownPicture(), 0);
  ExpectPicture(Encoded(".webp", KnownPicture(), {cv::IMWRITE_WEBP_QUALITY, 101}), KnownPicture(),
                0);
}

TEST(PhotoTest, LossyFormatsStayClose) {
  ExpectPicture(Encoded(".jpg", KnownPicture()), KnownPicture(), 4);
  ExpectPicture(Encoded(".jpg", KnownPicture(), {cv::IMWRITE_JPEG_PROGRESSIVE, 1}), KnownPicture(),
                4);
  ExpectPicture(Encoded(".jpg", KnownPicture(), {cv::IMWRITE_JPEG_RST_INTERVAL, 1}), KnownPicture(),
                4);
  ExpectPicture(Encoded(".webp", KnownPicture(), {cv::IMWRITE_WEBP_QUALITY, 90}), KnownPicture(),
                6);
}

TEST(PhotoTest, SixteenBitsRoundToEight) {
  cv::Mat deep;
  KnownPicture().convertTo(deep, CV_16U, 257, 100);  // 100 / 257 of a level rounds away
  ExpectPicture(Encoded(".png", deep), KnownPicture(), 0);
  ExpectPicture(Encoded(".tiff", deep), KnownPicture(), 0);
  ExpectPicture(Tiff(deep, {.big = true}), KnownPicture(), 0);
}

TEST(PhotoTest, GreyBecomesThreeEqualChannels) {
  cv::Mat grey(kHeight, kWidth, CV_8UC1);
  for (int x = 0; x < kWidth; ++x) grey.col(x) = 4 * x;
  cv::Mat expected;
  cv::merge(std::vector<cv::Mat>(3, grey), expected);
  cv::Mat deep;
  grey.convertTo(deep, CV_16U, 257);
  ExpectPicture(Encoded(".png", grey), expected, 0);
  ExpectPicture(Encoded(".png", deep), expected, 0);
  ExpectPicture(Encoded(".jpg", grey, {cv::IMWRITE_JPEG_QUALITY, 100}), expected, 1);
  for (const cv::Mat& picture : {grey, deep}) {
    ExpectPicture(Tiff(picture, {.photometric = 1}), expected, 0);
    ExpectPicture(Tiff(picture, {.photometric = 0}), cv::Scalar::all(255) - expected, 0);
  }
}

/// Colour 200 under alpha `a`, over grey 128: (200 a + 128 (255 - a)) / 255.
cv::Mat AlphaRamp(bool premultiplied, cv::Mat& expected) {
  cv::Mat picture(kHeight, 256, CV_8UC4);
  expected.create(kHeight, 256, CV_8UC3);
  for (int a = 0; a < 256; ++a) {
    const double colour = premultiplied ? std::round(200.0 * a / 255) : 200;
    picture.col(a) = cv::Scalar(colour, colour, colour, a);
    expected.col(a) = cv::Scalar::all(std::round((200.0 * a + 128.0 * (255 - a)) / 255));
  }
  return picture;
}

TEST(PhotoTest, AlphaLiesOverMidGrey) {
  cv::Mat expected;
  const cv::Mat straight = AlphaRamp(false, expected);
  cv::Mat deep;
  straight.convertTo(deep, CV_16U, 257);
  ExpectPicture(Encoded(".png", straight), expected, 0);
  ExpectPicture(Encoded(".png", deep), expected, 0);
  ExpectPicture(Encoded(".webp", straight, {cv::IMWRITE_WEBP_QUALITY, 101}), expected, 0.5);
  ExpectPicture(Tiff(straight, {.extra_samples = 2}), expected, 0);
  ExpectPicture(Tiff(deep, {.extra_samples = 2}), expected, 0);
  const cv::Mat premultiplied = AlphaRamp(true, expected);
  premultiplied.convertTo(deep, CV_16U, 257);
  ExpectPicture(Tiff(premultiplied, {.extra_samples = 1}), expected, 0.5);
  ExpectPicture(Tiff(deep, {.extra_samples = 1}), expected, 0.5);
}

/// A JPEG with the four inks of `inks` (C M Y K, 255 is no ink, as Adobe's programs write them).
std::string InkJpeg(const cv::Mat& inks, bool adobe) {
  jpeg_compress_struct info{};
  jpeg_error_mgr errors{};
  info.err = jpeg_std_error(&errors);
  jpeg_create_compress(&info);
  unsigned char* coded = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&info, &coded, &size);
  info.image_width = static_cast<JDIMENSION>(inks.cols);
  info.image_height = static_cast<JDIMENSION>(inks.rows);
  info.input_components = 4;
  info.in_color_space = JCS_CMYK;
  jpeg_set_defaults(&info);
  jpeg_set_quality(&info, 100, TRUE);
  info.write_Adobe_marker = adobe ? TRUE : FALSE;
  jpeg_start_compress(&info, TRUE);
  for (int y = 0; y < inks.rows; ++y) {
    JSAMPROW row = const_cast<JSAMPROW>(inks.ptr(y));
    jpeg_write_scanlines(&info, &row, 1);
  }
  jpeg_finish_compress(&info);
  jpeg_destroy_compress(&info);
  std::string file(reinterpret_cast<const char*>(coded), size);
  std::free(coded);
  return file;
}

TEST(PhotoTest, InksBecomeColours) {
  // Half black, and cyan alone: red is what cyan ink takes away.
  cv::Mat inks(kHeight, kWidth, CV_8UC4, cv::Scalar(255, 255, 255, 128));
  inks(cv::Rect(kWidth / 2, 0, kWidth / 2, kHeight)) = cv::Scalar(55, 255, 255, 255);
  cv::Mat expected(kHeight, kWidth, CV_8UC3, cv::Scalar(128, 128, 128));
  expected(cv::Rect(kWidth / 2, 0, kWidth / 2, kHeight)) = cv::Scalar(255, 255, 55);
  ExpectPicture(InkJpeg(inks, true), expected, 1);
  ExpectPicture(InkJpeg(cv::Scalar::all(255) - inks, false), expected, 1);
  // TIFF counts the ink, not what is left of the light.
  ExpectPicture(Tiff(cv::Scalar::all(255) - inks, {.photometric = 5}), expected, 1);
}

TEST(PhotoTest, DataBehindTheEndOfAJpegIsNoFault) {
  // Phones append previews and short films.
  ExpectPicture(Encoded(".jpg", KnownPicture()) + std::string(5000, '\xff') + "film",
                KnownPicture(), 4);
}

}  // namespace
}  // namespace debossier::image
