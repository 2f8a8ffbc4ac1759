// Manual pages and shell completion, from the same commands and options as `--help`.
//
// Not for: parsing, or help on the terminal; CLI11 does both.
#pragma once

#include <CLI/CLI.hpp>
#include <string>
#include <utility>
#include <vector>

namespace debossier::cli {

/// The commands of `app` and of those below it, itself first.
std::vector<const CLI::App*> AllCommands(const CLI::App& app);
/// "debossier refset create", with `between` in place of the spaces.
std::string FullName(const CLI::App& command, const std::string& between = " ");

/// What the value of an option is, for people: "a4|letter", "NUMBER", "FILE", "TEXT".
std::string ValueOf(const CLI::Option& option);

/// The page of one command, section 1, in the man macros (man-pages(7), groff_man(7)).
std::string ManPage(const CLI::App& command);
std::string BashCompletion(const CLI::App& app);
std::string ZshCompletion(const CLI::App& app);

/// The program's exit codes and what they mean, as the manual has them.
const std::vector<std::pair<int, std::string>>& ExitMeanings();

}  // namespace debossier::cli
