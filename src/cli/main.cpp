#include <cstdio>
#include <cstdlib>
#include <exception>
#include <new>
#include <opencv2/core.hpp>

#include "base/memory.h"
#include "base/unicode.h"
#include "base/version.h"
#include "cli/commands.h"

namespace debossier::cli {

namespace {

int Run(int argc, char** argv) {
  KeepFreedMemory();
  // One photo is one thread's work; a batch runs several photos at once.
  cv::setNumThreads(1);
  CLI::App app{
      "debossier compares the heat-stamped lettering on a leather item with reference sets built "
      "from verified items. Lettering alone proves nothing about an item; see README.md for the "
      "cautions.",
      "debossier"};
  app.set_version_flag("--version", kVersion, "Print the version and end");
  app.require_subcommand(1);
  Shared shared;
  app.add_option("--library", shared.library,
                 "Folder that holds glyphs/ and refsets/ (default: the current folder)")
      ->envname("DEBOSSIER_LIBRARY");
  Job job;
  AddBatch(app, shared, job);
  AddCard(app, job);
  AddCompare(app, shared, job);
  AddMeasure(app, job);
  AddRefset(app, shared, job);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    return app.exit(e) == 0 ? 0 : ExitCode(ErrorCode::kUsage);
  }
  const Result<std::string> result = job();
  // Names and labels come from strangers: none of them may steer the terminal.
  if (!result) {
    const std::string text = Visible(result.error().ToString(), Breaks::kKept);
    std::fprintf(stderr, "debossier: %s\n", text.c_str());
    return ExitCode(result.error().code);
  }
  std::fputs(Visible(*result, Breaks::kKept).c_str(), stdout);
  return 0;
}

}  // namespace

}  // namespace debossier::cli

int main(int argc, char** argv) {
  try {
    return debossier::cli::Run(argc, argv);
  } catch (const std::bad_alloc&) {
    std::fputs("debossier: out of memory (give a smaller photo or crop)\n", stderr);
  } catch (const std::exception& e) {
    std::fprintf(stderr, "debossier: internal error: %s\n", e.what());
  }
  return debossier::ExitCode(debossier::ErrorCode::kInternal);
}
