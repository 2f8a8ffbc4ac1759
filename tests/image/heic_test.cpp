// HEIC as phones write it: shown size and turn, colours, EXIF, tiles; and what is refused.
#include <gtest/gtest.h>

#include <random>

#include "image/decode.h"
#include "image/heic_bytes.h"
#include "image/photo.h"
#include "image/picture_bytes.h"

namespace debossier::image {
namespace {

using namespace testing;  // the builders of picture_bytes.h and heic_bytes.h

/// Four quadrants of different colours: no two of the eight turns look alike.
cv::Mat Quadrants(int width, int height) {
  cv::Mat picture(height, width, CV_8UC3, cv::Scalar(30, 40, 200));
  picture(cv::Rect(width / 2, 0, width - width / 2, height / 2)) = cv::Scalar(200, 60, 30);
  picture(cv::Rect(0, height / 2, width / 2, height - height / 2)) = cv::Scalar(40, 180, 60);
  picture(cv::Rect(width / 2, height / 2, width - width / 2, height - height / 2)) =
      cv::Scalar(220, 220, 220);
  return picture;
}

double MeanDifference(const cv::Mat& a, const cv::Mat& b) {
  if (a.size() != b.size() || a.type() != b.type()) return 255;
  return cv::norm(a, b, cv::NORM_L1) / (static_cast<double>(a.total()) * a.channels());
}

/// libheif's encoder without loss is off by one level in one channel.
constexpr double kOneLevel = 0.34;

/// The decoded pixels, or none with a failure noted.
cv::Mat Pixels(const std::string& file) {
  const auto photo = PhotoFromBytes(file, "x.heic");
  EXPECT_TRUE(photo) << photo.error().ToString();
  if (!photo) return {};
  EXPECT_EQ(photo->header.format, Format::kHeic);
  EXPECT_EQ(photo->bgr.size(), cv::Size(photo->header.width, photo->header.height));
  return photo->bgr;
}

void ExpectRefused(const std::string& file, ErrorCode code, const std::string& word) {
  const auto photo = PhotoFromBytes(file, "x.heic");
  ASSERT_FALSE(photo) << word;
  EXPECT_EQ(photo.error().code, code) << photo.error().ToString();
  EXPECT_EQ(photo.error().where, "x.heic");
  EXPECT_NE(photo.error().message.find(word), std::string::npos) << photo.error().ToString();
  EXPECT_FALSE(photo.error().hint.empty());
}

class Heif : public ::testing::Test {
 protected:
  void SetUp() override {
    if (Heic(Quadrants(64, 48)).empty()) GTEST_SKIP() << "libheif has no HEVC encoder here";
  }
};

TEST_F(Heif, LosslessPixelsAreKept) {
  EXPECT_LT(MeanDifference(Pixels(Heic(Quadrants(64, 48), {.lossless = true})), Quadrants(64, 48)),
            kOneLevel);
}

TEST_F(Heif, LossyPixelsStayClose) {
  EXPECT_LT(MeanDifference(Pixels(Heic(Quadrants(96, 64))), Quadrants(96, 64)), 4);
}

// The file's own turn is applied once, and that of EXIF, which repeats it, not at all.
TEST_F(Heif, EveryTurnIsAppliedOnce) {
  const cv::Mat stored = Quadrants(96, 64);
  for (int orientation = 1; orientation <= 8; ++orientation) {
    const std::string file =
        Heic(stored,
             {.orientation = orientation, .lossless = true, .exif = Exif(orientation, 26, true)});
    EXPECT_LT(MeanDifference(Pixels(file), Turned(stored.clone(), orientation)), kOneLevel)
        << orientation;
  }
  EXPECT_LT(
      MeanDifference(Pixels(Heic(stored, {.lossless = true, .exif = Exif(6, 26, true)})), stored),
      kOneLevel);
}

TEST_F(Heif, HeaderHoldsWhatTheFileSays) {
  const auto header =
      ReadHeader(Heic(Quadrants(64, 48), {.orientation = 6, .exif = Exif(6, 26, false)}), "x");
  ASSERT_TRUE(header);
  EXPECT_EQ(header->width, 48);
  EXPECT_EQ(header->height, 64);
  EXPECT_EQ(header->exif_orientation, 1);
  EXPECT_EQ(header->focal_length_35mm, 26.0);
}

TEST_F(Heif, OddSizesComeOutWhole) {
  EXPECT_LT(MeanDifference(Pixels(Heic(Quadrants(67, 49))), Quadrants(67, 49)), 4);
}

TEST_F(Heif, ProfilesBreakNothing) {
  for (const std::string& icc :
       {std::string("no profile"), std::string(128, '\xff'), std::string(3'000, 'p')}) {
    EXPECT_LT(MeanDifference(Pixels(Heic(Quadrants(64, 48), {.icc = icc})), Quadrants(64, 48)), 4);
  }
}

TEST_F(Heif, AlphaLiesOverMidGrey) {
  cv::Mat picture(64, 64, CV_8UC4, cv::Scalar(200, 200, 200, 255));
  picture(cv::Rect(32, 0, 32, 64)) = cv::Scalar(200, 200, 200, 0);
  const cv::Mat shown = Pixels(Heic(picture, {.quality = 100}));
  ASSERT_EQ(shown.size(), picture.size());
  EXPECT_NEAR(shown.at<cv::Vec3b>(32, 8)[0], 200, 4);
  EXPECT_NEAR(shown.at<cv::Vec3b>(32, 56)[0], 128, 4);
}

/// `picture` in tiles of 64 px, the last ones filled up with black.
std::vector<cv::Mat> Tiles(const cv::Mat& picture, int columns, int rows) {
  std::vector<cv::Mat> tiles;
  cv::Mat filled = cv::Mat::zeros(rows * 64, columns * 64, CV_8UC3);
  picture.copyTo(filled(cv::Rect(0, 0, picture.cols, picture.rows)));
  for (int i = 0; i < rows * columns; ++i) {
    tiles.push_back(filled(cv::Rect(i % columns * 64, i / columns * 64, 64, 64)).clone());
  }
  return tiles;
}

const HeicGrid kGrid{.columns = 3, .rows = 2, .width = 170, .height = 110};

TEST_F(Heif, TilesMakeOnePicture) {
  const cv::Mat picture = Quadrants(170, 110);
  const std::vector<cv::Mat> tiles = Tiles(picture, 3, 2);
  EXPECT_LT(MeanDifference(Pixels(HeicOfTiles(tiles, kGrid)), picture), kOneLevel);
  // A turn by one quarter against the clock (irot 1) is EXIF's 8.
  HeicGrid turned = kGrid;
  turned.more_properties = HeicBox("irot", "\x01");
  EXPECT_LT(MeanDifference(Pixels(HeicOfTiles(tiles, turned)), Turned(picture.clone(), 8)),
            kOneLevel);
}

TEST_F(Heif, CutsAreApplied) {
  HeicGrid cut = kGrid;
  const auto side = [](std::uint32_t value) { return Uint(value, 4, true) + Uint(1, 4, true); };
  cut.more_properties = HeicBox("clap", side(160) + side(100) + side(0) + side(0));
  const cv::Mat picture = Quadrants(170, 110);
  EXPECT_LT(MeanDifference(Pixels(HeicOfTiles(Tiles(picture, 3, 2), cut)),
                           picture(cv::Rect(5, 5, 160, 100)).clone()),
            kOneLevel);
  // A small window on a large picture passes the limits; what stands behind it does not.
  cut.width = cut.height = 20'000;
  ExpectRefused(HeicOfTiles(Tiles(picture, 3, 2), cut), ErrorCode::kNotAnImage, "damaged");
}

TEST_F(Heif, EveryTruncationIsRefused) {
  const std::vector<std::string> files = {
      Heic(Quadrants(96, 64), {.orientation = 6, .exif = Exif(6, 26, false)}),
      HeicOfTiles(Tiles(Quadrants(170, 110), 3, 2), kGrid)};
  for (const std::string& file : files) {
    for (std::size_t size = 0; size < file.size() - 1; size += size < 800 ? 1 : 97) {
      SCOPED_TRACE(size);
      ExpectRefused(file.substr(0, size), ErrorCode::kNotAnImage, "");
    }
    EXPECT_FALSE(Pixels(file).empty());
  }
}

TEST_F(Heif, SizesAreCheckedBeforeDecoding) {
  const Coded coded = CodedPicture(Heic(Quadrants(64, 64)));
  ASSERT_FALSE(coded.data.empty());
  EXPECT_TRUE(PhotoFromBytes(HeicOf(64, 64, coded.configuration, coded.data), "x.heic"));
  ExpectRefused(HeicOf(60'000, 60'000, coded.configuration, coded.data), ErrorCode::kOverLimit,
                "60000 by 60000");
  ExpectRefused(HeicOf(0xfffffff0u, 0xfffffff0u, coded.configuration, coded.data),
                ErrorCode::kNotAnImage, "");
  ExpectRefused(HeicOf(16, 16, coded.configuration, coded.data), ErrorCode::kPhotoTooSmall, "16");
  ExpectRefused(HeicOf(0, 64, coded.configuration, coded.data), ErrorCode::kNotAnImage, "width");
}

TEST_F(Heif, CodedPicturesOfAnotherSizeThanTheHeaderAreRefused) {
  const Coded large = CodedPicture(Heic(Quadrants(512, 400)));
  const Coded small = CodedPicture(Heic(Quadrants(64, 64)));
  ExpectRefused(HeicOf(64, 64, large.configuration, large.data), ErrorCode::kNotAnImage, "damaged");
  ExpectRefused(HeicOf(512, 400, small.configuration, small.data), ErrorCode::kNotAnImage, "");
  ExpectRefused(HeicOf(64, 64, "", small.data), ErrorCode::kNotAnImage, "");
  ExpectRefused(HeicOf(64, 64, small.configuration, ""), ErrorCode::kNotAnImage, "");
}

TEST_F(Heif, GridsThatContradictThemselvesAreRefused) {
  const std::vector<cv::Mat> tiles = Tiles(Quadrants(170, 110), 3, 2);
  HeicGrid grid = kGrid;
  grid.ispe_width = 171;
  ExpectRefused(HeicOfTiles(tiles, grid), ErrorCode::kNotAnImage, "");
  grid = kGrid;
  grid.columns = 4;
  ExpectRefused(HeicOfTiles(tiles, grid), ErrorCode::kNotAnImage, "");
  grid = kGrid;
  grid.repeat_first = true;
  // One tile ten thousand times would be decoded over and over.
  grid.columns = grid.rows = 100;
  ExpectRefused(HeicOfTiles({tiles[0]}, grid), ErrorCode::kNotAnImage, "");
  grid = kGrid;
  grid.width = grid.height = 60'000;
  ExpectRefused(HeicOfTiles(tiles, grid), ErrorCode::kOverLimit, "60000");
}

TEST_F(Heif, DamagedFilesNeverCrash) {
  std::mt19937 random(20250101);
  const std::vector<std::string> files = {
      Heic(Quadrants(96, 64), {.orientation = 6, .exif = Exif(6, 26, false)}),
      HeicOfTiles(Tiles(Quadrants(170, 110), 3, 2), kGrid)};
  int loaded = 0, refused = 0;
  for (const std::string& sound : files) {
    for (int i = 0; i < 300; ++i) {
      std::string file = sound;
      for (unsigned changes = 1 + random() % 4; changes > 0; --changes) {
        const std::size_t range = random() % 2 ? 700 : file.size();
        file[random() % range] = static_cast<char>(random());
      }
      const auto photo = PhotoFromBytes(file, "x.heic", {.max_pixels = 1'000'000});
      ++(photo ? loaded : refused);
      EXPECT_TRUE(photo || !photo.error().hint.empty());
    }
  }
  EXPECT_GT(loaded, 20);
  EXPECT_GT(refused, 20);
}

}  // namespace
}  // namespace debossier::image
