// Writes the manual pages and the shells' completion into a folder, while the program is built.
#include <cstdio>
#include <exception>

#include "base/files.h"
#include "cli/commands.h"
#include "cli/pages.h"

int main(int argc, char** argv) try {
  namespace cli = debossier::cli;
  if (argc != 2) {
    std::fputs("usage: make_pages FOLDER\n", stderr);
    return 2;
  }
  CLI::App app{cli::kAbout, "debossier"};
  cli::Shared shared;
  cli::Job job;
  cli::AddCommands(app, shared, job);
  const std::filesystem::path folder = argv[1];
  const auto write = [&](const std::string& name, const std::string& text) {
    const auto written =
        debossier::WriteFileWhole(folder / name, text, debossier::IfExists::kReplace, "cli");
    if (!written) std::fprintf(stderr, "%s\n", written.error().ToString().c_str());
    return written.has_value();
  };
  bool all = write("debossier.bash", cli::BashCompletion(app)) &&
             write("_debossier", cli::ZshCompletion(app));
  for (const CLI::App* command : cli::AllCommands(app)) {
    all = all && write(cli::FullName(*command, "-") + ".1", cli::ManPage(*command));
  }
  return all ? 0 : 1;
} catch (const std::exception& e) {
  std::fprintf(stderr, "%s\n", e.what());
  return 1;
}
