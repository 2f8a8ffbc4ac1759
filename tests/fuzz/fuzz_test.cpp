// Files from strangers, sound and damaged: each reader comes back with success or a refusal that
// names the mend, in bounded time and memory. DEBOSSIER_FUZZ_COUNT sets how many damaged files each
// reader gets.
#include <gtest/gtest.h>
#include <sys/resource.h>

#include <algorithm>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "fuzz/mutate.h"
#include "fuzz/readers.h"

namespace debossier::fuzz {
namespace {

namespace fs = std::filesystem;

constexpr double kMostSeconds = 2;
constexpr long kMostKilobytes = 500'000;

std::size_t Count() {
  const char* wanted = std::getenv("DEBOSSIER_FUZZ_COUNT");
  return wanted ? std::strtoull(wanted, nullptr, 10) : 300;
}

std::vector<std::pair<std::string, std::string>> Corpus(const std::string& reader) {
  std::vector<fs::path> paths;
  for (const auto& entry :
       fs::directory_iterator(fs::path(DEBOSSIER_TESTS) / "fuzz/corpus" / reader)) {
    paths.push_back(entry.path());
  }
  std::sort(paths.begin(), paths.end());
  std::vector<std::pair<std::string, std::string>> files;
  for (const fs::path& path : paths) {
    std::ifstream in(path, std::ios::binary);
    std::stringstream bytes;
    bytes << in.rdbuf();
    files.emplace_back(path.filename().string(), bytes.str());
  }
  return files;
}

/// Seconds of the processor: what else the machine does is no fault of the reader.
double Seconds() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

class FuzzTest : public ::testing::TestWithParam<Reader> {};

/// Files whose names begin with "sound" are read, all others are refused.
TEST_P(FuzzTest, CorpusIsReadOrRefused) {
  int sound = 0;
  for (const auto& [name, bytes] : Corpus(GetParam().name)) {
    const auto result = GetParam().read(bytes);
    const bool is_sound = name.starts_with("sound");
    sound += is_sound;
    EXPECT_EQ(result.has_value(), is_sound)
        << name << (result ? "" : ": " + result.error().ToString());
    EXPECT_EQ(FaultOf(GetParam(), bytes), "") << name;
  }
  EXPECT_GT(sound, 1);
}

TEST_P(FuzzTest, DamagedFilesAreReadOrRefused) {
  std::vector<std::string> seeds;
  for (const auto& [name, bytes] : Corpus(GetParam().name)) seeds.push_back(bytes);
  ASSERT_FALSE(seeds.empty());
  std::mt19937_64 random(1);
  std::size_t read = 0, refused = 0;
  double slowest = 0;
  for (std::size_t i = 0; i < Count(); ++i) {
    const std::string bytes = Mutated(seeds, i % seeds.size(), random);
    const double start = Seconds();
    const std::string fault = FaultOf(GetParam(), bytes);
    slowest = std::max(slowest, Seconds() - start);
    EXPECT_EQ(fault, "") << "file " << i;
    ++(GetParam().read(bytes) ? read : refused);
  }
  // Both ways out must have been met, or the damage is too small or too large to test anything.
  EXPECT_GT(read, Count() / 100);
  EXPECT_GT(refused, Count() / 100);
  EXPECT_LT(slowest, kMostSeconds);
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  EXPECT_LT(usage.ru_maxrss, kMostKilobytes);
  std::printf("%s: %zu read, %zu refused, slowest %.3f s, peak %ld MB\n", GetParam().name.c_str(),
              read, refused, slowest, usage.ru_maxrss / 1024);
}

INSTANTIATE_TEST_SUITE_P(Readers, FuzzTest, ::testing::ValuesIn(Readers()),
                         [](const ::testing::TestParamInfo<Reader>& p) { return p.param.name; });

}  // namespace
}  // namespace debossier::fuzz
