#include "cli/arguments.h"

#include <fmt/format.h>

#include <algorithm>

#include "cli/pages.h"

namespace debossier::cli {

namespace {

/// Optimal string alignment distance (restricted Damerau and Levenshtein).
std::size_t TypingErrors(const std::string& a, const std::string& b) {
  std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
  for (std::size_t k = 0; k <= b.size(); ++k) d[0][k] = k;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    for (std::size_t k = 1; k <= b.size(); ++k) {
      d[i][k] =
          std::min({d[i - 1][k] + 1, d[i][k - 1] + 1, d[i - 1][k - 1] + (a[i - 1] != b[k - 1])});
      if (i > 1 && k > 1 && a[i - 1] == b[k - 2] && a[i - 2] == b[k - 1]) {
        d[i][k] = std::min(d[i][k], d[i - 2][k - 2] + 1);
      }
    }
  }
  return d[a.size()][b.size()];
}

Unexpected Wrong(const std::string& where, const std::string& what, const std::string& hint) {
  return Refuse(ErrorCode::kUsage, "cli", where, what, hint);
}

Unexpected Unknown(const CLI::App& app, const std::string& wrong, const char* kind,
                   const std::vector<std::string>& names) {
  const std::string nearest = Nearest(wrong, names);
  std::string hint = nearest.empty() ? "" : fmt::format("did you mean {}? ", nearest);
  return Wrong(wrong, fmt::format("there is no such {}", kind),
               hint + fmt::format("`{} --help` lists what there is", FullName(app)));
}

std::vector<std::string> Commands(const CLI::App& app) {
  std::vector<std::string> names;
  for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; })) {
    names.push_back(command->get_name());
  }
  return names;
}

/// The options of a command and of those above it: "--photo".
std::vector<std::string> Options(const CLI::App& app) {
  std::vector<std::string> names;
  for (const CLI::App* at = &app; at != nullptr; at = at->get_parent()) {
    for (const CLI::Option* option : at->get_options()) {
      for (const auto& name : option->get_lnames()) names.push_back("--" + name);
    }
  }
  return names;
}

const CLI::Option* Find(const CLI::App& app, const std::string& name) {
  const CLI::Option* option = nullptr;
  for (const CLI::App* at = &app; at != nullptr && option == nullptr; at = at->get_parent()) {
    option = at->get_option_no_throw(name);
  }
  return option;
}

/// `option` is null for a value without one.
Result<std::monostate> CheckValue(const CLI::Option* option, const std::string& value) {
  const std::string name = option == nullptr ? "" : "--" + option->get_single_name();
  if (value.empty()) {
    return name.empty() ? Wrong("", "an argument is empty", "fill it in, or leave it out")
                        : Wrong(name, "has an empty value", "fill it in, or leave the option out");
  }
  const bool is_text = option != nullptr && ValueOf(*option) == "TEXT";
  if (value != "-" || name == "--json" || is_text) return std::monostate{};
  if (name == "--pdf") {
    return Wrong("--pdf -", "a report is not written to standard output", "name a file");
  }
  return Wrong("-", "standard input is not read", "name a file");
}

}  // namespace

std::string Nearest(const std::string& wrong, const std::vector<std::string>& names) {
  std::string nearest;
  std::size_t fewest = std::max<std::size_t>(2, wrong.size() / 3) + 1;
  for (const std::string& name : names) {
    if (const std::size_t errors = TypingErrors(wrong, name); errors < fewest) {
      fewest = errors;
      nearest = name;
    }
  }
  return nearest;
}

Result<std::monostate> CheckArguments(const CLI::App& app, const std::vector<std::string>& given) {
  constexpr std::size_t kLongest = 200;  // of a name; what is longer is near to none
  const CLI::App* at = &app;
  const CLI::Option* option = nullptr;  // whose value may come next
  bool needs_value = false;
  for (const std::string& argument : given) {
    const bool is_option = argument.size() > 2 && argument.starts_with("--") && !needs_value;
    if (!is_option) {
      if (auto checked = CheckValue(option, argument); !checked) return checked;
      const bool is_command = !needs_value && !Commands(*at).empty();
      if (is_command) {
        if (argument == "-h") return std::monostate{};
        const auto commands = Commands(*at);
        if (std::find(commands.begin(), commands.end(), argument) == commands.end()) {
          return Unknown(*at, argument.substr(0, kLongest), "command", commands);
        }
        at = at->get_subcommand(argument);
      }
      needs_value = false;
      continue;
    }
    const std::size_t equals = argument.find('=');
    const std::string name = argument.substr(0, std::min(equals, kLongest));
    option = Find(*at, name);
    if (option == nullptr) return Unknown(*at, name, "option", Options(*at));
    needs_value = option->get_items_expected_min() > 0 && equals == std::string::npos;
    if (equals == std::string::npos) continue;
    if (auto checked = CheckValue(option, argument.substr(equals + 1)); !checked) return checked;
    option = nullptr;
  }
  return std::monostate{};
}

}  // namespace debossier::cli
