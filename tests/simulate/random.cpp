#include "simulate/random.h"

#include <bit>
#include <cmath>
#include <numbers>

#include "base/result.h"

namespace debossier::simulate {

std::uint64_t SplitMix64(std::uint64_t& state) {
  state += 0x9e3779b97f4a7c15ull;
  std::uint64_t z = state;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ull;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebull;
  return z ^ (z >> 31);
}

Random::Random(std::uint64_t seed) : seed_(seed), state_{} {
  std::uint64_t mixer = seed;
  for (std::uint64_t& word : state_) word = SplitMix64(mixer);
}

std::uint64_t Random::Next() {
  const std::uint64_t result = std::rotl(state_[1] * 5, 7) * 9;
  const std::uint64_t shifted = state_[1] << 17;
  state_[2] ^= state_[0];
  state_[3] ^= state_[1];
  state_[1] ^= state_[2];
  state_[0] ^= state_[3];
  state_[2] ^= shifted;
  state_[3] = std::rotl(state_[3], 45);
  return result;
}

double Random::Uniform() { return static_cast<double>(Next() >> 11) * 0x1.0p-53; }

int Random::Below(int count) {
  DEBOSSIER_ASSERT(count > 0);
  return static_cast<int>(Uniform() * count);
}

double Random::Normal() {
  const double radius = std::sqrt(-2.0 * std::log(1.0 - Uniform()));
  return radius * std::cos(2.0 * std::numbers::pi * Uniform());
}

float Random::FieldNormal() {
  const std::uint64_t bits = Next();
  const auto sum = static_cast<float>((bits & 0xffff) + ((bits >> 16) & 0xffff) +
                                      ((bits >> 32) & 0xffff) + (bits >> 48));
  // Four uniform values of variance 1/12 each: divide by sqrt(4 / 12).
  return (sum * (1.0f / 65535.0f) - 2.0f) * 1.7320508f;
}

Random Random::Fork(std::uint64_t stream) const {
  std::uint64_t mixer = seed_ ^ (stream * 0xd1342543de82ef95ull + 0x2545f4914f6cdd1dull);
  return Random(SplitMix64(mixer));
}

}  // namespace debossier::simulate
