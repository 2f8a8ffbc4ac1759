// Work of a library that may not be trusted with a stranger's file, in a process of its own.
//
// The child is a fork: it sees the caller's memory as it is and leaves nothing behind but what it
// wrote. Address space, processor time and time by the clock are limited (setrlimit(2), alarm(2)),
// so that the caller goes on whatever the work does. A lock that another thread of the caller holds
// while it forks stays locked in the child; allocation and loading, which the C library sets right
// after a fork, are safe.
// Not for: a sandbox. The child has the user's rights.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <span>

namespace debossier::image {

struct GuardLimits {
  std::uint64_t memory_bytes = 512ull << 20;  ///< Beside what the caller has.
  int seconds = 10;  ///< Of processor time, and of twice that by the clock.
};

/// Runs `work` in a child process on `size` bytes, zero at first, and returns them; null where it
/// returned false, threw, died or went over a limit. `work` may not use OpenCV's threads, which a
/// fork leaves behind. May throw std::bad_alloc.
std::shared_ptr<std::uint8_t[]> RunGuarded(
    std::size_t size, const GuardLimits& limits,
    const std::function<bool(std::span<std::uint8_t>)>& work);

}  // namespace debossier::image
