// The readers of files from strangers, each from bytes alone, for the fuzz programs and their test.
//
// What has to hold for any bytes: the reader comes back, with success or with a refusal that says
// what is wrong and how to mend it. Faults of memory are the sanitizers' to find.
#pragma once

#include <string>
#include <variant>
#include <vector>

#include "base/result.h"

namespace debossier::fuzz {

struct Reader {
  std::string name;  ///< Of its folder in corpus/.
  Result<std::monostate> (*read)(const std::string& bytes);
};

/// image, set, glif, plist, manifest.
const std::vector<Reader>& Readers();

/// What is wrong with the way `reader` took `bytes`; empty where nothing is.
std::string FaultOf(const Reader& reader, const std::string& bytes);

}  // namespace debossier::fuzz
