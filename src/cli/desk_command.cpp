#include <fmt/format.h>
#include <spawn.h>

#include <algorithm>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <thread>

#include "base/outputs.h"
#include "cli/commands.h"
#include "desk/server.h"
#include "desk/work.h"

extern char** environ;

namespace debossier::cli {

namespace {

struct DeskJob {
  std::string work;
  int port = 0;
  bool no_browser = false;
  batch::BatchOptions options;
  ReportOptions report;
};

/// Opens the address where there is a screen; whether that works is the browser's business.
void OpenBrowser(const std::string& address) {
  if (std::getenv("DISPLAY") == nullptr && std::getenv("WAYLAND_DISPLAY") == nullptr) return;
  std::string program = "xdg-open", argument = address;
  char* const arguments[] = {program.data(), argument.data(), nullptr};
  pid_t child = 0;
  posix_spawnp(&child, program.c_str(), nullptr, nullptr, arguments, environ);
}

Result<std::string> RunDesk(const DeskJob& job, const Shared& shared) {
  batch::BatchOptions options = job.options;
  if (options.jobs == 0) {
    options.jobs = std::clamp(static_cast<int>(std::thread::hardware_concurrency()), 1, 256);
  }
  auto fields = job.report.Fields();
  if (!fields) return PassOn(fields);
  options.examine.pdf.fields = *std::move(fields);
  options.examine.verified = std::make_shared<report::VerifiedPictures>(shared.Library());
  for (const auto& folder : shared.KeptFolders()) {
    if (!LiesIn(job.work, folder)) continue;
    return Refuse(ErrorCode::kUsage, "cli", job.work, "--work lies in the library",
                  "name a folder outside glyphs/ and refsets/");
  }
  // Blocked in all threads that come, so that the one that waits for them gets them.
  sigset_t signals;
  sigemptyset(&signals);
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) sigaddset(&signals, signal);
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);
  auto work = desk::Work::Open(job.work, shared.Library(), options);
  if (!work) return PassOn(work);
  auto server = desk::Server::Open(**work, job.port);
  if (!server) return PassOn(server);
  fmt::print("{}\n", (*server)->address());
  std::fflush(stdout);
  if (!job.no_browser) OpenBrowser((*server)->address());
  std::thread listener([&] { (*server)->Run(); });
  int signal = 0;
  sigwait(&signals, &signal);
  (*server)->Stop();
  listener.join();
  return fmt::format("The work is in {}; the same command goes on with it.\n", job.work);
}

}  // namespace

void AddDesk(CLI::App& app, const Shared& shared, Job& job) {
  auto* command = app.add_subcommand(
      "desk", "Take photos in and look at results in the browser of this machine");
  auto state = std::make_shared<DeskJob>();
  command
      ->add_option("--work", state->work,
                   "Folder of the work: photos, a manifest, and the results as batch writes them")
      ->required();
  command->add_option("--port", state->port, "Port on this machine (default: any free one)")
      ->check(CLI::Range(1, 65535));
  command->add_flag("--no-browser", state->no_browser, "Print the address, open no browser");
  command
      ->add_option("--jobs", state->options.jobs,
                   "Photos compared at once (default: one for each hardware thread)")
      ->check(CLI::Range(1, 256));
  AddCompareOptions(*command, state->options.examine.compare);
  AddCardOptions(*command, state->options.examine.compare.scale);
  state->report.AddTo(*command, false);
  command->callback(
      [&job, &shared, state] { job = [&shared, state] { return RunDesk(*state, shared); }; });
}

}  // namespace debossier::cli
