// What one run of the program will write, held against what it reads before any work.
//
// Not for: writing (files.h).
#pragma once

#include <filesystem>
#include <string>
#include <variant>
#include <vector>

#include "base/files.h"

namespace debossier {

/// A file that is to be written. An empty path: this one is not asked for.
struct Output {
  std::string option;  ///< As the user names it: "--pdf".
  std::filesystem::path path;
};

/// Refuses, with kUsage, an output that is one of `inputs` (by another name or link too), another
/// output, or inside one of `kept_folders`; and what CheckWritable refuses.
Result<std::monostate> CheckOutputs(const std::vector<Output>& outputs,
                                    const std::vector<std::filesystem::path>& inputs,
                                    const std::vector<std::filesystem::path>& kept_folders,
                                    IfExists if_exists, std::string_view stage);

/// True where `path` is `folder` or lies in it, links followed; it need not exist.
bool LiesIn(const std::filesystem::path& path, const std::filesystem::path& folder);

}  // namespace debossier
