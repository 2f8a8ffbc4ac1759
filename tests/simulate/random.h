// Random numbers that are the same on every machine: xoshiro256** seeded by splitmix64.
//
// Source: Blackman and Vigna, "Scrambled linear pseudorandom number generators", ACM TOMS 47
// (2021), and Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014.
// The standard library's distributions differ between implementations, so the conversions to
// uniform and normal values are here as well.
// Not for: secrets.
#pragma once

#include <array>
#include <cstdint>

namespace debossier::simulate {

/// One step of splitmix64: advances `state` and returns the next value.
std::uint64_t SplitMix64(std::uint64_t& state);

class Random {
 public:
  explicit Random(std::uint64_t seed);

  std::uint64_t Next();
  /// In [0, 1), 53 bits.
  double Uniform();
  double Uniform(double low, double high) { return low + (high - low) * Uniform(); }
  /// In 0 .. count - 1. @pre count > 0.
  int Below(int count);
  /// Mean 0, variance 1 (Box and Muller).
  double Normal();
  /// Mean 0, variance 1, from four 16-bit uniform values: bounded at +-3.46, cheap, for fields.
  float FieldNormal();
  /// An independent stream; the same seed and stream number give the same numbers, whatever was
  /// drawn from this one before.
  Random Fork(std::uint64_t stream) const;

 private:
  std::uint64_t seed_;
  std::array<std::uint64_t, 4> state_;
};

}  // namespace debossier::simulate
