#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <csignal>
#include <memory>
#include <thread>

#include "base/outputs.h"
#include "base/unicode.h"
#include "batch/progress.h"
#include "batch/run_batch.h"
#include "cli/commands.h"

namespace debossier::cli {

namespace {

struct BatchJob {
  std::string input;
  std::string out;
  std::string set;
  std::string photos;
  std::string pdf = "all";
  std::string paper = "a4";
  bool quiet = false;
  batch::BatchOptions options;
  ReportOptions report;
};

std::atomic<bool> stop_asked{false};
static_assert(std::atomic<bool>::is_always_lock_free, "set by a signal handler");

void AskToStop(int) { stop_asked = true; }

// The first signal lets the photos in work end; a second one of the kind ends the program at once.
void StopOnSignals() {
  struct sigaction action {};
  action.sa_handler = AskToStop;
  action.sa_flags = static_cast<int>(SA_RESETHAND | SA_RESTART);
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) sigaction(signal, &action, nullptr);
}

int Columns() {
  winsize size{};
  return ioctl(STDERR_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col : 80;
}

// Prints progress on standard error: a bar that stays on its line, or a line a photo.
class Printer {
 public:
  Printer(std::size_t total, std::size_t recorded)
      : progress_(total, recorded), terminal_(isatty(STDERR_FILENO) != 0) {}
  ~Printer() {
    if (terminal_) std::fputs("\r\033[K", stderr);
  }
  Printer(const Printer&) = delete;
  Printer& operator=(const Printer&) = delete;

  void Print(const batch::Step& step) {
    progress_.Add(step);
    const std::chrono::duration<double> since = std::chrono::steady_clock::now() - start_;
    if (terminal_) {
      const std::string stopping = stop_asked ? " stopping" : "";
      const int columns = Columns() - static_cast<int>(stopping.size());
      fmt::print(stderr, "\r\033[K{}{}", progress_.Bar(columns, since.count()), stopping);
    } else {
      fmt::print(stderr, "{}\n", progress_.Line(step, since.count()));
    }
    std::fflush(stderr);
  }

 private:
  batch::Progress progress_;
  bool terminal_;
  std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
};

report::PdfPolicy PolicyNamed(const std::string& name) {
  if (name == "none") return report::PdfPolicy::kNone;
  return name == "all" ? report::PdfPolicy::kAll : report::PdfPolicy::kDepartures;
}

void TellLeftOut(const batch::Plan& plan) {
  if (plan.links_left_out > 0) {
    fmt::print(stderr, "Note: links that lead out of the folder or nowhere are left out: {}\n",
               plan.links_left_out);
  }
  if (plan.others_left_out > 0) {
    fmt::print(stderr, "Note: files that are not named like photos are left out: {}\n",
               plan.others_left_out);
  }
}

/// Photos that an earlier run left a record of.
std::size_t Recorded(const batch::Plan& plan, const std::string& out) {
  const batch::OutputFolder folder{out};
  std::error_code error;
  return static_cast<std::size_t>(
      std::count_if(plan.entries.begin(), plan.entries.end(), [&](const batch::Entry& entry) {
        return std::filesystem::exists(folder.RecordOf(entry), error);
      }));
}

Result<std::string> RunBatchJob(const BatchJob& job, const Shared& shared) {
  batch::BatchOptions options = job.options;
  options.examine.pdf_policy = PolicyNamed(job.pdf);
  if (job.paper == "letter") options.examine.pdf.paper = report::Paper::kLetter;
  if (options.jobs == 0) {
    options.jobs = std::clamp(static_cast<int>(std::thread::hardware_concurrency()), 1, 256);
  }
  if (auto checked = options.Check(); !checked) return PassOn(checked);
  auto fields = job.report.Fields();
  if (!fields) return PassOn(fields);
  options.examine.pdf.fields = *std::move(fields);
  options.examine.verified = std::make_shared<report::VerifiedPictures>(shared.Library());
  auto plan = batch::MakePlan(job.input, {job.set, job.photos, job.out});
  if (!plan) return PassOn(plan);
  for (const auto& folder : shared.KeptFolders()) {
    if (!LiesIn(job.out, folder)) continue;
    return Refuse(ErrorCode::kUsage, "cli", job.out, "--out lies in the library",
                  "name a folder outside glyphs/ and refsets/");
  }
  auto sets = batch::LoadSets(shared.Library(), *plan);
  if (!sets) return PassOn(sets);
  if (!job.quiet) TellLeftOut(*plan);
  StopOnSignals();
  Result<batch::Tally> tally = [&] {
    std::unique_ptr<Printer> printer;
    batch::OnStep on_step;
    if (!job.quiet) {
      printer = std::make_unique<Printer>(plan->entries.size(), Recorded(*plan, job.out));
      on_step = [&printer](const batch::Step& step) { printer->Print(step); };
    }
    return batch::RunBatch(*plan, *sets, job.out, options, stop_asked, on_step);
  }();
  if (!tally) return PassOn(tally);
  const std::string end = batch::EndInWords(*tally, job.out);
  if (tally->not_done + tally->dossiers_not_done == 0 && tally->refused + tally->failed == 0) {
    return end;
  }
  std::fputs(end.c_str(), stdout);
  if (tally->not_done + tally->dossiers_not_done > 0) {
    return Refuse(ErrorCode::kStopped, "cli", "",
                  fmt::format("stopped with {} of {} photos and {} dossiers not done",
                              tally->not_done, tally->total, tally->dossiers_not_done),
                  "give the same command again to go on");
  }
  return Refuse(ErrorCode::kPhotosLeftOut, "cli", "",
                fmt::format("{} of {} photos could not be compared", tally->refused + tally->failed,
                            tally->total),
                "batch.csv says why");
}

}  // namespace

void AddBatch(CLI::App& app, const Shared& shared, Job& job) {
  auto* command = app.add_subcommand(
      "batch", "Compare the photos of a folder or a manifest; goes on where an earlier run ended");
  auto state = std::make_shared<BatchJob>();
  command
      ->add_option("input", state->input,
                   "Folder of photos, or a CSV manifest with the columns photo, item, set, crop "
                   "and notes (only photo must be there)")
      ->required();
  command->add_option("--out", state->out, "Folder for results, reports and the overview")
      ->required();
  command->add_option("--set", state->set, "Reference set of all photos that name none");
  command->add_option("--photos", state->photos,
                      "Folder of a manifest's photos (default: where the manifest lies)");
  command
      ->add_option("--jobs", state->options.jobs,
                   "Photos compared at once (default: one for each hardware thread)")
      ->check(CLI::Range(1, 256));
  command->add_option("--pdf", state->pdf, "Reports for: all photos, departures only, or none")
      ->check(CLI::IsMember({"all", "departures", "none"}));
  command->add_flag("--dossiers", state->options.dossiers,
                    "Make one document for each item of the manifest, over all its photos");
  command->add_option("--paper", state->paper, "Paper of the reports: a4 or letter")
      ->check(CLI::IsMember({"a4", "letter"}));
  AddCompareOptions(*command, state->options.examine.compare);
  AddCardOptions(*command, state->options.examine.compare.scale);
  state->report.AddTo(*command, false);
  command->add_flag("--quiet", state->quiet, "No progress, only the end");
  command->callback(
      [&job, &shared, state] { job = [&shared, state] { return RunBatchJob(*state, shared); }; });
}

}  // namespace debossier::cli
