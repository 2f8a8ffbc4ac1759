// The main job by stages, on the example photo, on one thread; ratios to decoding come out as
// counters.
//
//   cmake -C src/presets/release.cmake -S . -B build/release -G Ninja && cmake --build
//   build/release build/release/tests/report_benchmark
//
// Whole-process figures: BM_Program runs the command itself, loading of libraries included.
#include <benchmark/benchmark.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <string>

#include "base/memory.h"
#include "compare/compare_photo.h"
#include "image/photo.h"
#include "refset/create.h"
#include "report/overlay_pdf.h"

namespace debossier {
namespace {

const std::string kSource = DEBOSSIER_SOURCE;
const std::string kPhoto = kSource + "/examples/orbenna/genuine.jpg";

refset::RefSet Set() {
  auto set = refset::LoadSet({kSource}, "orbenna");
  if (!set) std::abort();
  return std::move(*set);
}

double Seconds(std::chrono::steady_clock::time_point since) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - since).count();
}

/// The best of ten decodes: what everything is compared with.
double DecodeSeconds(const std::string& photo = kPhoto) {
  double best = 1e9;
  for (int k = 0; k < 10; ++k) {
    const auto start = std::chrono::steady_clock::now();
    benchmark::DoNotOptimize(image::LoadPhoto(photo));
    best = std::min(best, Seconds(start));
  }
  return best;
}

template <class Work>
void RunWithRatio(benchmark::State& state, Work work, const std::string& photo = kPhoto) {
  cv::setNumThreads(1);
  KeepFreedMemory();  // as the program does
  const double decode = DecodeSeconds(photo);
  double total = 0;
  for (auto _ : state) {
    const auto start = std::chrono::steady_clock::now();
    work();
    total += Seconds(start);
  }
  state.counters["decodes"] = total / static_cast<double>(state.iterations()) / decode;
}

void BM_Decode(benchmark::State& state) {
  RunWithRatio(state, [] { benchmark::DoNotOptimize(image::LoadPhoto(kPhoto)); });
}
BENCHMARK(BM_Decode)->Unit(benchmark::kMillisecond);

void BM_Compare(benchmark::State& state) {
  const auto set = Set();
  const auto photo = image::LoadPhoto(kPhoto);
  RunWithRatio(state, [&] { benchmark::DoNotOptimize(compare::ComparePhoto(*photo, set)); });
}
BENCHMARK(BM_Compare)->Unit(benchmark::kMillisecond);

/// A photo that departs: the next best place is tried too.
void BM_CompareDeparting(benchmark::State& state) {
  const std::string departing = kSource + "/examples/orbenna/departing.jpg";
  const auto set = Set();
  const auto photo = image::LoadPhoto(departing);
  RunWithRatio(
      state, [&] { benchmark::DoNotOptimize(compare::ComparePhoto(*photo, set)); }, departing);
}
BENCHMARK(BM_CompareDeparting)->Unit(benchmark::kMillisecond);

void BM_OverlayPdf(benchmark::State& state) {
  const auto set = Set();
  const auto photo = image::LoadPhoto(kPhoto);
  const auto comparison = compare::ComparePhoto(*photo, set);
  if (!comparison) std::abort();
  RunWithRatio(state, [&] { benchmark::DoNotOptimize(report::OverlayPdf(*comparison, *photo)); });
}
BENCHMARK(BM_OverlayPdf)->Unit(benchmark::kMillisecond);

void BM_SetFromSixPhotos(benchmark::State& state) {
  std::vector<image::Photo> photos;
  for (int k = 0; k < 6; ++k) {
    auto photo =
        image::LoadPhoto(kSource + "/examples/orbenna/verified-000" + std::to_string(k) + ".jpg");
    if (!photo) std::abort();
    photos.push_back(std::move(*photo));
  }
  reading::TextSpec text;
  text.lines = {{"wordmark", "ORBENNA"}, {"origin", "MADE IN VALDORE"}};
  text.mark = "®";
  refset::CreateOptions options;
  options.id = "benchmark";
  RunWithRatio(state,
               [&] { benchmark::DoNotOptimize(refset::CreateFromPhotos(photos, text, options)); });
}
BENCHMARK(BM_SetFromSixPhotos)->Unit(benchmark::kMillisecond)->Iterations(1);

void BM_Program(benchmark::State& state) {
  const std::string command = std::string(DEBOSSIER_PROGRAM) + " --library " + kSource +
                              " compare --set orbenna --photo " + kPhoto + " > /dev/null";
  RunWithRatio(state, [&] {
    if (std::system(command.c_str()) != 0) std::abort();
  });
}
BENCHMARK(BM_Program)->Unit(benchmark::kMillisecond);

/// Loading and comparing a photo as phones take it: the example enlarged to 12 megapixels.
void BM_LoadAndCompareTwelveMegapixels(benchmark::State& state) {
  const auto set = Set();
  cv::Mat picture(3000, 4000, CV_8UC3, cv::Scalar(60, 75, 110));
  const auto example = image::LoadPhoto(kPhoto);
  if (!example) std::abort();
  cv::Mat enlarged;
  const int height = 4000 * example->bgr.rows / example->bgr.cols;
  cv::resize(example->bgr, enlarged, cv::Size(4000, height), 0, 0, cv::INTER_CUBIC);
  enlarged.copyTo(picture(cv::Rect(0, (3000 - height) / 2, 4000, height)));
  const std::string file =
      (std::filesystem::temp_directory_path() / "debossier-benchmark.jpg").string();
  cv::imwrite(file, picture, {cv::IMWRITE_JPEG_QUALITY, 92});
  RunWithRatio(
      state,
      [&] {
        const auto photo = image::LoadPhoto(file);
        benchmark::DoNotOptimize(compare::ComparePhoto(*photo, set));
      },
      file);
  std::filesystem::remove(file);
}
BENCHMARK(BM_LoadAndCompareTwelveMegapixels)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace debossier
