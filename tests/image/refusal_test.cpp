// Files that are no whole photo of an accepted size are refused, with a mend, and never crash.
#include <gtest/gtest.h>
#include <sys/resource.h>

#include <map>
#include <random>

#include "image/photo.h"
#include "image/picture_bytes.h"
#include "image/picture_on_disk.h"

namespace debossier::image {
namespace {

using namespace testing;  // the builders of picture_bytes.h

/// A picture with enough detail that no encoder shrinks it to nothing.
cv::Mat Speckle(int width, int height) {
  cv::Mat picture(height, width, CV_8UC3);
  cv::RNG random(7);
  random.fill(picture, cv::RNG::UNIFORM, 0, 255);
  return picture;
}

/// One sound file of each kind, by name.
std::map<std::string, std::string> SoundFiles() {
  const cv::Mat picture = Speckle(96, 64);
  const std::string exif = Exif(6, 26, false);
  return {
      {"jpeg", JpegWithExif(Encoded(".jpg", picture), exif)},
      {"progressive jpeg", Encoded(".jpg", picture, {cv::IMWRITE_JPEG_PROGRESSIVE, 1})},
      {"png", PngWithExif(Encoded(".png", picture), exif)},
      {"tiff, compressed", Encoded(".tiff", picture)},
      {"tiff, directory first", Tiff(picture, {.orientation = 6})},
      {"webp, lossy", WebpWithExif(Encoded(".webp", picture, {cv::IMWRITE_WEBP_QUALITY, 80}),
                                   picture.size(), exif)},
      {"webp, lossless", Encoded(".webp", picture, {cv::IMWRITE_WEBP_QUALITY, 101})},
  };
}

Result<Photo> Load(const std::string& bytes, const LoadOptions& options = {}) {
  const PictureOnDisk file(bytes);
  return LoadPhoto(file.Path(), options);
}

void ExpectRefused(const std::string& bytes, ErrorCode code, const std::string& word) {
  const auto photo = Load(bytes);
  ASSERT_FALSE(photo) << word;
  EXPECT_EQ(photo.error().code, code) << photo.error().ToString();
  EXPECT_EQ(photo.error().stage, "image");
  EXPECT_NE(photo.error().message.find(word), std::string::npos) << photo.error().ToString();
  EXPECT_FALSE(photo.error().hint.empty()) << photo.error().ToString();
}

TEST(RefusalTest, SoundFilesLoad) {
  for (const auto& [kind, bytes] : SoundFiles()) EXPECT_TRUE(Load(bytes)) << kind;
}

TEST(RefusalTest, EveryTruncationIsRefused) {
  for (const auto& [kind, bytes] : SoundFiles()) {
    for (std::size_t sixteenth = 1; sixteenth < 16; ++sixteenth) {
      SCOPED_TRACE(kind + ", " + std::to_string(sixteenth) + "/16");
      ExpectRefused(bytes.substr(0, bytes.size() * sixteenth / 16), ErrorCode::kNotAnImage, "");
    }
  }
}

TEST(RefusalTest, TheLastBytesCount) {
  for (const auto& [kind, bytes] : SoundFiles()) {
    SCOPED_TRACE(kind);
    ExpectRefused(bytes.substr(0, bytes.size() - 2), ErrorCode::kNotAnImage, "");
  }
}

TEST(RefusalTest, EveryHeaderTruncationIsRefused) {
  for (const auto& [kind, bytes] : SoundFiles()) {
    for (std::size_t size = 0; size < 200; ++size) {
      SCOPED_TRACE(kind + ", " + std::to_string(size) + " bytes");
      ExpectRefused(bytes.substr(0, size), ErrorCode::kNotAnImage, "");
    }
  }
}

long PeakKilobytes() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return usage.ru_maxrss;
}

TEST(RefusalTest, HugeHeadersAreRefusedBeforeDecoding) {
  constexpr std::uint32_t kSide = 60'000;
  const std::vector<std::pair<std::string, std::string>> files = {
      {"jpeg", JpegStart(kSide, kSide)},
      {"png", PngStart(kSide, kSide)},
      {"tiff", TiffStart(true) + Directory({{256, 4, 1, kSide}, {257, 4, 1, kSide}}, true)},
      {"webp", WebpFile(Vp8x(0, kSide, kSide))},
  };
  const long before = PeakKilobytes();
  for (const auto& [kind, bytes] : files) {
    SCOPED_TRACE(kind);
    ExpectRefused(bytes, ErrorCode::kOverLimit, "60000 by 60000");
  }
  // The pixels would take 10 GB.
  EXPECT_LT(PeakKilobytes() - before, 32 * 1024);
}

TEST(RefusalTest, SizesBeyondAnIntAreOverTheLimit) {
  const std::uint32_t side = 0xfffffff0u;
  ExpectRefused(TiffStart(false) + Directory({{256, 4, 1, side}, {257, 4, 1, side}}, false),
                ErrorCode::kOverLimit, "accepted");
}

TEST(RefusalTest, LimitsAreThoseOfTheOptions) {
  const std::string bytes = Encoded(".png", Speckle(96, 64));
  EXPECT_TRUE(Load(bytes, {.max_pixels = 96 * 64, .max_side_px = 96, .min_side_px = 64}));
  EXPECT_EQ(Load(bytes, {.max_pixels = 96 * 64 - 1}).error().code, ErrorCode::kOverLimit);
  EXPECT_EQ(Load(bytes, {.max_side_px = 95}).error().code, ErrorCode::kOverLimit);
  EXPECT_EQ(Load(bytes, {.min_side_px = 65}).error().code, ErrorCode::kPhotoTooSmall);
  EXPECT_EQ(Load(bytes, {.max_file_bytes = bytes.size() - 1}).error().code, ErrorCode::kOverLimit);
}

TEST(RefusalTest, WebpPictureLargerThanItsCanvasIsRefused) {
  const std::string inner = Encoded(".webp", Speckle(96, 64)).substr(12);
  ExpectRefused(WebpFile(Vp8x(0, 64, 64) + inner), ErrorCode::kNotAnImage, "another size");
}

TEST(RefusalTest, FilesThatAreNoPictureAreNamed) {
  ExpectRefused("", ErrorCode::kNotAnImage, "empty");
  ExpectRefused("These are the minutes of the meeting.\n", ErrorCode::kNotAnImage, "not a picture");
  ExpectRefused("%PDF-1.7\n", ErrorCode::kNotAnImage, "PDF");
  ExpectRefused("GIF89a......", ErrorCode::kNotAnImage, "GIF");
  ExpectRefused(std::string("\0\0\0\x10"
                            "ftypheic\0\0\0\0",
                            16),
                ErrorCode::kNotAnImage, "HEIC");
  ExpectRefused(std::string("\0\0\0\x10"
                            "ftypavif\0\0\0\0",
                            16),
                ErrorCode::kNotAnImage, "AVIF");
}

TEST(RefusalTest, RawFilesAreNotTakenForTheirPreview) {
  ExpectRefused(
      TiffStart(false) + Directory({{254, 4, 1, 1}, {256, 4, 1, 96}, {257, 4, 1, 64}}, false),
      ErrorCode::kNotAnImage, "raw");
}

TEST(RefusalTest, DeepInksAreNamed) {
  ExpectRefused(Tiff(cv::Mat(48, 64, CV_16UC4, cv::Scalar(1, 2, 3, 4)), {.photometric = 5}),
                ErrorCode::kNotAnImage, "inks");
}

TEST(RefusalTest, AbsentFilesAndFoldersAreNamed) {
  EXPECT_EQ(LoadPhoto(::testing::TempDir() + "no_such_picture").error().code,
            ErrorCode::kFileMissing);
  EXPECT_EQ(LoadPhoto(::testing::TempDir()).error().code, ErrorCode::kFileMissing);
}

TEST(RefusalTest, DamagedFilesNeverCrash) {
  std::mt19937 random(20240229);
  const LoadOptions options{.max_pixels = 1'000'000};
  int loaded = 0;
  int refused = 0;
  for (const auto& [kind, sound] : SoundFiles()) {
    for (int i = 0; i < 200; ++i) {
      std::string bytes = sound;
      // Half of the damage goes into the first 256 bytes, where the structure is.
      for (unsigned changes = 1 + random() % 8; changes > 0; --changes) {
        const std::size_t range = random() % 2 ? 256 : bytes.size();
        bytes[random() % range] = static_cast<char>(random());
      }
      if (random() % 4 == 0) bytes.erase(random() % bytes.size(), random() % 64);
      const auto photo = Load(bytes, options);
      if (photo) {
        ++loaded;
        EXPECT_EQ(photo->bgr.type(), CV_8UC3) << kind;
        EXPECT_LE(photo->bgr.total(), options.max_pixels) << kind;
      } else {
        ++refused;
        EXPECT_FALSE(photo.error().message.empty()) << kind;
        EXPECT_FALSE(photo.error().hint.empty()) << kind;
        EXPECT_NE(photo.error().code, ErrorCode::kInternal) << kind;
      }
    }
  }
  // Damage in the pixels may pass, damage in the structure may not: both must have been met.
  EXPECT_GT(loaded, 50);
  EXPECT_GT(refused, 50);
}

TEST(RefusalTest, RandomBytesBehindEachSignatureNeverCrash) {
  std::mt19937 random(11);
  const std::vector<std::string> starts = {"\xff\xd8\xff",
                                           "\x89PNG\r\n\x1a\n",
                                           std::string("II*\0\x08\0\0\0", 8),
                                           std::string("MM\0*\0\0\0\x08", 8),
                                           "RIFF\x40\x01\x01\x01WEBPVP8X",
                                           ""};
  for (int i = 0; i < 1000; ++i) {
    std::string bytes = starts[random() % starts.size()];
    for (unsigned size = random() % 600; size > 0; --size) bytes += static_cast<char>(random());
    const auto photo = Load(bytes, {.max_pixels = 1'000'000});
    EXPECT_TRUE(photo || !photo.error().hint.empty());
  }
}

}  // namespace
}  // namespace debossier::image
