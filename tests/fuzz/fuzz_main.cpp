// A libFuzzer program for the reader that DEBOSSIER_FUZZ_READER names.
#include <cstdint>
#include <cstdio>
#include <cstdlib>

#include "fuzz/readers.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const debossier::fuzz::Reader* const reader = [] {
    for (const auto& known : debossier::fuzz::Readers()) {
      if (known.name == DEBOSSIER_FUZZ_READER) return &known;
    }
    std::abort();
  }();
  const std::string fault =
      debossier::fuzz::FaultOf(*reader, std::string(reinterpret_cast<const char*>(data), size));
  if (!fault.empty()) {
    std::fprintf(stderr, "%s\n", fault.c_str());
    std::abort();
  }
  return 0;
}
