// What CLI11 does not say of arguments: the nearest right name of one that is misspelt, values that
// are empty, and "-".
//
// Not for: parsing.
#pragma once

#include <CLI/CLI.hpp>
#include <string>
#include <variant>
#include <vector>

#include "base/result.h"

namespace debossier::cli {

/// Refuses, with kUsage, an unknown command or option (naming the nearest), an empty value, and "-"
/// where neither standard input nor output is meant: only `--json -` is.
Result<std::monostate> CheckArguments(const CLI::App& app, const std::vector<std::string>& given);

/// The one of `names` that takes the fewest typing errors (insertion, deletion, exchange of a
/// letter or of two neighbours) to become `wrong`; empty where none is near.
std::string Nearest(const std::string& wrong, const std::vector<std::string>& names);

}  // namespace debossier::cli
