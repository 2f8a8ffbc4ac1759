// debossier-accuracy: how far off the measured numbers are, and how often findings are right, on
// simulated photographs with known truth.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <atomic>
#include <cstdio>
#include <filesystem>
#include <map>
#include <mutex>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "accuracy/tables.h"
#include "accuracy/trial.h"
#include "base/version.h"

namespace debossier::accuracy {
namespace {

struct Arguments {
  std::string half = "all";
  std::string out;
  std::vector<double> cap_heights;
  int first_die = 0;
  int dies = 100;
  int jobs = 2;
  bool quiet = false;
  TrialOptions trial;
};

void Append(TrialResult& to, TrialResult&& from) {
  const std::size_t shift = to.photos.size();
  for (auto& m : from.measures) m.photo += shift;
  to.sets.insert(to.sets.end(), from.sets.begin(), from.sets.end());
  to.photos.insert(to.photos.end(), from.photos.begin(), from.photos.end());
  for (auto& s : from.sentences) s.photo += shift;
  to.sentences.insert(to.sentences.end(), from.sentences.begin(), from.sentences.end());
  for (auto& row : from.categories) row.photo += shift;
  to.categories.insert(to.categories.end(), from.categories.begin(), from.categories.end());
  to.measures.insert(to.measures.end(), from.measures.begin(), from.measures.end());
}

/// Runs the chosen dies on several threads; results come in the order of the dies.
Result<TrialResult> RunAll(const Arguments& a) {
  std::vector<int> chosen;
  const int all = static_cast<int>(DiePlans().size());
  for (int k = a.first_die; k < std::min(all, a.first_die + a.dies); ++k) {
    const bool unseen = DiePlans()[static_cast<std::size_t>(k)].unseen;
    if (a.half == "all" || (a.half == "unseen") == unseen) chosen.push_back(k);
  }
  std::vector<std::optional<Result<TrialResult>>> results(chosen.size());
  std::atomic<std::size_t> next{0};
  std::mutex printing;
  const auto work = [&] {
    for (std::size_t k = next++; k < chosen.size(); k = next++) {
      results[k] = RunDie(chosen[k], a.trial);
      const std::lock_guard lock(printing);
      if (!a.quiet) {
        fmt::print(stderr, "die {} of {} done\n", k + 1, chosen.size());
      }
    }
  };
  cv::setNumThreads(1);
  std::vector<std::thread> workers;
  for (int k = 0; k < a.jobs; ++k) workers.emplace_back(work);
  for (auto& worker : workers) worker.join();
  TrialResult whole;
  for (auto& result : results) {
    if (!*result) return PassOn(*result);
    Append(whole, std::move(**result));
  }
  return whole;
}

std::string InWords(const Taking& taking) {
  return fmt::format("{}, cap height {:g} to {:g} px", simulate::NameOf(taking.level),
                     taking.least_cap_px, taking.most_cap_px);
}

void Print(const Arguments& a, const TrialResult& result) {
  for (const SetRow& set : result.sets) {
    if (set.built) continue;
    fmt::print("No set of {} from {} photos: {}\n",
               DiePlans()[static_cast<std::size_t>(set.die)].wordmark, set.set_size, set.refusal);
  }
  const std::vector<std::pair<Half, const char*>> halves = {
      {Half::kAll, "all faces"},
      {Half::kTuned, "faces used for tuning"},
      {Half::kUnseen, "faces and leather never used for tuning"}};
  for (const int size : a.trial.set_sizes) {
    for (const auto& [half, name] : halves) {
      fmt::print("\n== {}; sets from {} photos, {}; {}\n\n", InWords(a.trial.questioned), size,
                 InWords(a.trial.behind_sets), name);
      fmt::print("{}\n{}", MeasuresTable(result, size, half), FindingsTable(result, size, half));
    }
    if (a.trial.copies) {
      fmt::print("\n== by degradation, sets from {} photos\n\n{}", size,
                 DegradationsTable(result, size));
    }
    fmt::print("\n== sentences, sets from {} photos\n\n{}\n{}", size, UniformityTable(result, size),
               LevelsTable(result, size));
    fmt::print("\n== thresholds, sets from {} photos\n\n{}", size, RocTable(result, size));
  }
}

void AddTaking(CLI::App& app, const std::string& prefix, const std::string& whose, Taking& taking) {
  using simulate::Level;
  const std::map<std::string, Level> levels = {
      {"clean", Level::kClean}, {"typical", Level::kTypical}, {"hard", Level::kHard}};
  app.add_option("--" + prefix + "level", taking.level, "clean, typical or hard, " + whose)
      ->transform(CLI::CheckedTransformer(levels, CLI::ignore_case));
  app.add_option("--" + prefix + "least-cap-height", taking.least_cap_px, "px, " + whose)
      ->check(CLI::Range(10., 1000.));
  app.add_option("--" + prefix + "most-cap-height", taking.most_cap_px, "px, " + whose)
      ->check(CLI::Range(10., 1000.));
}

int Main(int argc, char** argv) {
  CLI::App app("Measures debossier on simulated photographs with known truth and prints tables.");
  app.set_version_flag("--version", std::string("debossier-accuracy ") + kVersion);
  Arguments a;
  AddTaking(app, "", "of the questioned photos", a.trial.questioned);
  AddTaking(app, "verified-", "of the photos behind the sets", a.trial.behind_sets);
  app.add_option("--set-size", a.trial.set_sizes, "verified photos a set; repeat for more")
      ->check(CLI::Range(1, 20));
  app.add_option("--genuine", a.trial.genuine, "genuine photos a die")->check(CLI::Range(0, 1000));
  app.add_option("--departing", a.trial.departing, "photos a die and departure")
      ->check(CLI::Range(0, 1000));
  app.add_option("--only", a.trial.only, "this departure or nuisance only; repeat for more");
  app.add_option("--faces", a.half, "all, tuned or unseen")
      ->check(CLI::IsMember({"all", "tuned", "unseen"}));
  app.add_option("--first-die", a.first_die, "number of the first die")->check(CLI::Range(0, 100));
  app.add_option("--dies", a.dies, "how many dies")->check(CLI::Range(1, 100));
  app.add_option("--verified", a.trial.verified,
                 "photos behind the sets: plain, degraded, or mixed of both")
      ->transform(CLI::CheckedTransformer(
          std::map<std::string, VerifiedPhotos>{{"plain", VerifiedPhotos::kPlain},
                                                {"degraded", VerifiedPhotos::kDegraded},
                                                {"mixed", VerifiedPhotos::kMixed}},
          CLI::ignore_case));
  app.add_option("--origin-case", a.trial.origin_case,
                 "of the dies' second line: capitals, title, small or mixed")
      ->transform(CLI::CheckedTransformer(
          std::map<std::string, outline::LineCase>{{"capitals", outline::LineCase::kCapitals},
                                                   {"title", outline::LineCase::kTitle},
                                                   {"small", outline::LineCase::kSmall},
                                                   {"mixed", outline::LineCase::kMixed}},
          CLI::ignore_case));
  app.add_flag("--copies", a.trial.copies, "degraded copies of every genuine photo too");
  app.add_flag("--categories", a.trial.categories,
               "degraded copies of photos of another letter, case, mark or frame too, and nothing "
               "but the counts of categories by size and blur: compare/category_rates.inc");
  app.add_flag("--blind", a.trial.blind, "stamps without foil");
  app.add_option("--seed", a.trial.seed, "the same seed gives the same photos");
  app.add_option("--jobs", a.jobs, "threads")->check(CLI::Range(1, 64));
  app.add_option("--out", a.out, "existing folder for photos.csv and measures.csv");
  app.add_option("--photos", a.trial.keep, "existing folder for the photos and their truth");
  app.add_flag("--quiet", a.quiet, "no progress");
  app.set_config("--options", "", "file of options, a line each: name=value");
  CLI11_PARSE(app, argc, argv);
  const auto fail = [](const Error& error) {
    fmt::print(stderr, "debossier-accuracy: {}\n", error.ToString());
    return ExitCode(error.code);
  };
  const auto result = RunAll(a);
  if (!result) return fail(result.error());
  if (a.trial.categories) {
    fmt::print("{}", CategoryCounts(*result));
  } else {
    Print(a, *result);
  }
  if (a.out.empty()) return 0;
  const auto written = WriteCsv(*result, a.out);
  return written ? 0 : fail(written.error());
}

}  // namespace
}  // namespace debossier::accuracy

int main(int argc, char** argv) { return debossier::accuracy::Main(argc, argv); }
