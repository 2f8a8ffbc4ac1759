// Whatever the work in a child does, the caller goes on; limits by setrlimit(2) and alarm(2).
#include "image/guarded.h"

#include <gtest/gtest.h>
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <ctime>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

namespace debossier::image {
namespace {

using Shared = std::span<std::uint8_t>;

TEST(Guarded, GivesBackWhatTheChildWrote) {
  int here = 0;
  const auto bytes = RunGuarded(3, {}, [&](Shared shared) {
    here = 1;
    shared[1] = 7;
    return true;
  });
  ASSERT_TRUE(bytes);
  EXPECT_EQ(bytes[0], 0);
  EXPECT_EQ(bytes[1], 7);
  EXPECT_EQ(here, 0) << "the child has a memory of its own";
}

TEST(Guarded, FailuresAndDeathsGiveNothing) {
  EXPECT_FALSE(RunGuarded(1, {}, [](Shared) { return false; }));
  EXPECT_FALSE(RunGuarded(1, {}, [](Shared) -> bool { throw std::runtime_error("x"); }));
  for (const int fatal : {SIGSEGV, SIGABRT, SIGKILL, SIGTERM}) {
    EXPECT_FALSE(RunGuarded(1, {}, [fatal](Shared) { return raise(fatal) == 0; })) << fatal;
  }
  EXPECT_FALSE(RunGuarded(1, {}, [](Shared) -> bool { _exit(3); }));
}

TEST(Guarded, InterruptsAreLeftToTheCaller) {
  EXPECT_TRUE(RunGuarded(1, {}, [](Shared) { return raise(SIGINT) == 0; }));
}

TEST(Guarded, TimeIsLimited) {
  const GuardLimits limits{.seconds = 1};
  const auto begun = std::chrono::steady_clock::now();
  EXPECT_FALSE(RunGuarded(1, limits, [](Shared) {
    while (clock() >= 0) {
    }
    return true;
  }));
  EXPECT_FALSE(RunGuarded(1, limits, [](Shared) { return pause() == 0; }));
  EXPECT_LT(std::chrono::steady_clock::now() - begun, std::chrono::seconds(60));
}

TEST(Guarded, MemoryIsLimited) {
#ifdef DEBOSSIER_SANITIZE
  GTEST_SKIP() << "sanitizers reserve more than any limit";
#endif
  const auto takes = [](std::size_t bytes) {
    return RunGuarded(1, {.memory_bytes = 64 << 20}, [bytes](Shared shared) {
      const std::vector<std::uint8_t> many(bytes, 1);
      shared[0] = many[bytes / 2];
      return true;
    });
  };
  EXPECT_TRUE(takes(16 << 20));
  EXPECT_FALSE(takes(256 << 20));
  EXPECT_FALSE(takes(std::size_t{1} << 40));
}

TEST(Guarded, ThreadsOfTheCallerGoOn) {
  std::vector<std::thread> threads;
  std::atomic<int> right{0};
  for (int t = 0; t < 4; ++t) {
    threads.emplace_back([&right, t] {
      for (int i = 0; i < 50; ++i) {
        const auto bytes = RunGuarded(64, {}, [t](Shared shared) {
          const std::vector<std::uint8_t> made(shared.size(), static_cast<std::uint8_t>(t));
          std::copy(made.begin(), made.end(), shared.begin());
          return true;
        });
        right += bytes && bytes[63] == t ? 1 : 0;
        // What a fork may catch another thread in the middle of.
        const std::vector<std::string> noise(100, std::string(1000, 'x'));
        right += noise.back().size() == 1000 ? 0 : 1000;
      }
    });
  }
  for (auto& thread : threads) thread.join();
  EXPECT_EQ(right, 200);
}

}  // namespace
}  // namespace debossier::image
