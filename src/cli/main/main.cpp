#include <cerrno>
#include <csignal>
#include <cstdio>
#include <exception>
#include <new>
#include <opencv2/core.hpp>
#include <system_error>

#include "base/memory.h"
#include "base/unicode.h"
#include "cli/arguments.h"
#include "cli/commands.h"

namespace debossier::cli {

namespace {

int Fail(const Error& error) {
  // Names and labels come from strangers: none of them may steer the terminal.
  const std::string text = Visible(error.ToString(), Breaks::kKept);
  std::fprintf(stderr, "debossier: %s\n", text.c_str());
  return ExitCode(error.code);
}

/// 0, or the exit code where standard output did not take what was printed.
int FlushOutput() {
  errno = 0;
  if (std::fflush(stdout) == 0 && std::ferror(stdout) == 0) return 0;
  const std::string why = std::error_code(errno, std::generic_category()).message();
  return Fail({ErrorCode::kOutputNotWritable, "cli", "standard output",
               errno == 0 ? "could not be written to its end" : "cannot be written: " + why,
               "what was to be written to files is there"});
}

int Run(int argc, char** argv) {
  KeepFreedMemory();
  // One photo is one thread's work; a batch runs several photos at once.
  cv::setNumThreads(1);
  // A reader that went away is an error to tell, like a disk that is full.
  std::signal(SIGPIPE, SIG_IGN);
  CLI::App app{kAbout, "debossier"};
  Shared shared;
  Job job;
  AddCommands(app, shared, job);
  if (auto checked = CheckArguments(app, {argv + 1, argv + argc}); !checked) {
    return Fail(checked.error());
  }
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    if (e.get_exit_code() == 0) {  // help or version
      app.exit(e);
      return FlushOutput();
    }
    return Fail({ErrorCode::kUsage, "cli", "", e.what(), "--help lists commands and options"});
  }
  const Result<std::string> result = job();
  if (result) std::fputs(Visible(*result, Breaks::kKept).c_str(), stdout);
  if (const int failed = FlushOutput()) return failed;
  return result ? 0 : Fail(result.error());
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
