// What loading a 12-megapixel JPEG costs beside plain decoding with its own turn, at every EXIF
// orientation.
#include <benchmark/benchmark.h>

#include <opencv2/imgproc.hpp>

#include "base/files.h"
#include "image/photo.h"
#include "image/picture_bytes.h"
#include "image/picture_on_disk.h"

namespace debossier::image {
namespace {

/// Grain as in a photo of leather: noise that JPEG neither flattens nor explodes on.
std::string GrainyJpeg() {
  cv::Mat picture(3000, 4000, CV_8UC3);
  cv::RNG random(3);
  random.fill(picture, cv::RNG::NORMAL, 110, 60);
  cv::GaussianBlur(picture, picture, {}, 1.5);
  return testing::Encoded(".jpg", picture, {cv::IMWRITE_JPEG_QUALITY, 92});
}

void PlainDecode(benchmark::State& state) {
  const int orientation = static_cast<int>(state.range(0));
  const std::string bytes =
      testing::JpegWithExif(GrainyJpeg(), testing::Exif(orientation, 26, true));
  const cv::Mat view(1, static_cast<int>(bytes.size()), CV_8U, const_cast<char*>(bytes.data()));
  for (auto _ : state) benchmark::DoNotOptimize(cv::imdecode(view, cv::IMREAD_COLOR).data);
  state.counters["bytes"] = static_cast<double>(bytes.size());
}
BENCHMARK(PlainDecode)->DenseRange(1, 8)->Unit(benchmark::kMillisecond);

void Hash(benchmark::State& state) {
  const std::string bytes = GrainyJpeg();
  for (auto _ : state) benchmark::DoNotOptimize(Sha256Hex(bytes));
}
BENCHMARK(Hash)->Unit(benchmark::kMillisecond);

void Load(benchmark::State& state) {
  const int orientation = static_cast<int>(state.range(0));
  const testing::PictureOnDisk file(
      testing::JpegWithExif(GrainyJpeg(), testing::Exif(orientation, 26, true)));
  for (auto _ : state) {
    const auto photo = LoadPhoto(file.Path());
    if (!photo) state.SkipWithError(photo.error().ToString().c_str());
  }
}
BENCHMARK(Load)->DenseRange(1, 8)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace debossier::image
