// Damage to files, the same on every machine: bytes, blocks, numbers, names.
//
// Not for: finding the rare case; the libFuzzer programs are for that.
#pragma once

#include <random>
#include <string>
#include <vector>

namespace debossier::fuzz {

/// `seeds[which]` with one to four places damaged; parts of other seeds may get into it. `seeds` is
/// not empty and its strings are not too large to be copied often.
std::string Mutated(const std::vector<std::string>& seeds, std::size_t which,
                    std::mt19937_64& random);

}  // namespace debossier::fuzz
