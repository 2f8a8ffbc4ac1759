// debossier-day-script: the product beside what somebody would write in a day, on the same
// simulated photographs in one run. Prints the table that README.md shows.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <atomic>
#include <cctype>
#include <chrono>
#include <cmath>
#include <map>
#include <mutex>
#include <thread>

#include "accuracy/day_script.h"
#include "accuracy/tables.h"
#include "accuracy/truth.h"
#include "base/quantile.h"

namespace debossier::accuracy {
namespace {

/// Scores of the three ways to judge a photo: higher departs more.
struct Scores {
  std::vector<double> product;
  std::vector<double> overlap;
  std::vector<double> boxes;
};

struct Named {
  int lines = 0;
  int product = 0;
  int product_wrong = 0;
  int script = 0;
  int script_wrong = 0;
};

struct Tally {
  std::mutex guard;
  std::map<std::string, Scores> by_change;
  std::vector<double> product_gap_errors;
  std::vector<double> script_gap_errors;
  int script_gaps_asked = 0;
  Named cases;
  double product_seconds = 0;
  double script_seconds = 0;
  int photos = 0;
};

/// The lettering's box in the photo and a tenth of its height about it: a crop by hand.
cv::Rect HandCrop(const simulate::Truth& truth) {
  outline::Box box;
  for (const auto& e : truth.elements) {
    for (const auto& p : e.quad_px) box.Add(p);
  }
  if (truth.frame.kind != outline::FrameKind::kNone) {
    for (const auto& p : truth.frame_quad_px) box.Add(p);
  }
  const double margin = 0.3 * truth.amounts.cap_height_px;
  return {cvFloor(box.min.x() - margin), cvFloor(box.min.y() - margin),
          cvCeil(box.width() + 2 * margin), cvCeil(box.height() + 2 * margin)};
}

std::string Folded(const std::string& text) {
  std::string out;
  for (const unsigned char c : text) {
    if (std::isalpha(c)) out += static_cast<char>(std::toupper(c));
  }
  return out;
}

/// Levenshtein's distance.
std::size_t Distance(const std::string& a, const std::string& b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t corner = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t above = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, corner + (a[i - 1] != b[j - 1])});
      corner = above;
    }
  }
  return row.back();
}

/// Whether what was recognised is the text in the case that it is stamped in; nothing where it is
/// not the text at all.
std::optional<bool> CaseRight(const std::string& recognised, const std::string& stamped) {
  const std::string a = Folded(recognised);
  const std::string b = Folded(stamped);
  if (a.empty() || 3 * Distance(a, b) > b.size()) return std::nullopt;
  const auto is = outline::CaseOfText(recognised);
  const auto truth = outline::CaseOfText(stamped);
  return is == truth || (is == outline::LineCase::kTitle && truth == outline::LineCase::kMixed);
}

/// Index of the line whose case was changed; -1: none.
int RecasedLine(const SeenPhoto& seen) {
  for (std::size_t l = 0; l < seen.set.lettering.lines.size(); ++l) {
    const auto& line = seen.set.lettering.lines[l];
    for (const auto& t : seen.truth.lines) {
      if (t.id == line.id && t.text != line.text && Folded(t.text) == Folded(line.text)) {
        return static_cast<int>(l);
      }
    }
  }
  return -1;
}

void Look(const SeenPhoto& seen, Tally& tally) {
  constexpr double kRefused = 1e3;  // nobody is told that nothing departs
  const int recased = RecasedLine(seen);
  const auto begun = std::chrono::steady_clock::now();
  const ScriptReading script =
      ReadWithScript(seen.photo.bgr, HandCrop(seen.truth), seen.set.lettering, recased);
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begun;
  const std::lock_guard lock(tally.guard);
  const PhotoRow& row = seen.row;
  std::string name = row.change;
  if (row.amount != 0) name += fmt::format(" {:+g} %", 100 * row.amount);
  Scores& scores = tally.by_change[name];
  scores.product.push_back(row.compared ? row.score : kRefused);
  scores.overlap.push_back(script.aligned ? 1 - script.overlap : kRefused);
  scores.boxes.push_back(script.aligned ? script.worst_gap : kRefused);
  ++tally.photos;
  tally.product_seconds += seen.seconds;
  tally.script_seconds += took.count();
  if (row.change == "genuine") {
    const auto neighbours = NeighbourGaps(seen.set.lettering);
    for (std::size_t k = 0; k < neighbours.size(); ++k) {
      const auto& elements = seen.set.lettering.elements;
      const auto& right = elements[neighbours[k].right];
      if (right.kind == outline::ElementKind::kMark) continue;
      const auto truth =
          TrueValue(seen.die, "gap", {elements[neighbours[k].left].id, right.id}, seen.gain);
      ++tally.script_gaps_asked;
      if (truth && !std::isnan(script.gaps[k])) {
        tally.script_gap_errors.push_back(std::abs(script.gaps[k] - *truth));
      }
    }
  }
  if (recased >= 0 && row.case_named != CaseNamed::kNotAsked) {
    ++tally.cases.lines;
    tally.cases.product += row.case_named == CaseNamed::kRight;
    tally.cases.product_wrong += row.case_named == CaseNamed::kWrong;
    for (const auto& t : seen.truth.lines) {
      if (t.id != seen.set.lettering.lines[static_cast<std::size_t>(recased)].id) continue;
      const auto right = CaseRight(script.text, t.text);
      tally.cases.script += right.value_or(false);
      tally.cases.script_wrong += right && !*right;
    }
  }
}

void Print(Tally& tally) {
  const Scores genuine = tally.by_change["genuine"];
  fmt::print("{} photos, {} of them genuine\n\n", tally.photos, genuine.product.size());
  fmt::print("| departure | photos | debossier | overlap | boxes |\n|---|---|---|---|---|\n");
  for (const auto& [name, scores] : tally.by_change) {
    if (name == "genuine") continue;
    fmt::print("| {} | {} | {:.2f} | {:.2f} | {:.2f} |\n", name, scores.product.size(),
               AreaUnderCurve(scores.product, genuine.product),
               AreaUnderCurve(scores.overlap, genuine.overlap),
               AreaUnderCurve(scores.boxes, genuine.boxes));
  }
  const auto percent = [](const std::vector<double>& errors, double share) {
    return 100 * Quantile(errors, share);
  };
  fmt::print("\n| | debossier | script |\n|---|---|---|\n");
  fmt::print(
      "| gaps, median / 95 % of errors, % of cap height | {:.1f} / {:.1f} | {:.1f} / {:.1f} |\n",
      percent(tally.product_gap_errors, 0.5), percent(tally.product_gap_errors, 0.95),
      percent(tally.script_gap_errors, 0.5), percent(tally.script_gap_errors, 0.95));
  fmt::print("| gaps read | {} | {} of {} |\n", tally.product_gap_errors.size(),
             tally.script_gap_errors.size(), tally.script_gaps_asked);
  fmt::print("| case of {} lines in another case, named right / wrong | {} / {} | {} / {} |\n",
             tally.cases.lines, tally.cases.product, tally.cases.product_wrong, tally.cases.script,
             tally.cases.script_wrong);
  fmt::print("| seconds a photo | {:.2f} | {:.2f} |\n", tally.product_seconds / tally.photos,
             tally.script_seconds / tally.photos);
}

int Main(int argc, char** argv) {
  CLI::App app("Holds debossier beside what somebody would write in a day, on simulated photos.");
  TrialOptions options;
  options.set_sizes = {6};
  options.genuine = 4;
  options.departing = 2;
  options.seed = 7;
  int dies = 100;
  int jobs = 2;
  app.add_option("--genuine", options.genuine, "genuine photos a die")->check(CLI::Range(1, 100));
  app.add_option("--departing", options.departing, "photos a die and departure")
      ->check(CLI::Range(0, 100));
  app.add_option("--only", options.only, "this departure only; repeat for more");
  app.add_option("--dies", dies, "how many dies")->check(CLI::Range(1, 100));
  app.add_option("--jobs", jobs, "threads")->check(CLI::Range(1, 64));
  app.add_option("--seed", options.seed, "the same seed gives the same photos");
  CLI11_PARSE(app, argc, argv);
  Tally tally;
  options.beside = [&](const SeenPhoto& seen) { Look(seen, tally); };
  std::atomic<int> next{0};
  const int all = std::min(dies, static_cast<int>(DiePlans().size()));
  const auto work = [&] {
    for (int k = next++; k < all; k = next++) {
      const auto result = RunDie(k, options);
      const std::lock_guard lock(tally.guard);
      if (!result) {
        fmt::print(stderr, "debossier-day-script: {}\n", result.error().ToString());
        continue;
      }
      for (const MeasureRow& m : result->measures) {
        if (m.measure == "gap" && m.has_truth)
          tally.product_gap_errors.push_back(std::abs(m.error));
      }
      fmt::print(stderr, "die {} done\n", k);
    }
  };
  cv::setNumThreads(1);
  std::vector<std::thread> workers;
  for (int k = 0; k < jobs; ++k) workers.emplace_back(work);
  for (auto& worker : workers) worker.join();
  if (tally.photos == 0) return 1;
  Print(tally);
  return 0;
}

}  // namespace
}  // namespace debossier::accuracy

int main(int argc, char** argv) { return debossier::accuracy::Main(argc, argv); }
