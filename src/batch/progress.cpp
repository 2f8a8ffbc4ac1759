#include "batch/progress.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/unicode.h"

namespace debossier::batch {

namespace {

constexpr std::size_t kMostTold = 200;
constexpr std::size_t kMostOthers = 20;
constexpr int kMostBar = 40;

std::string InWords(const Record& record) {
  if (record.outcome != Outcome::kCompared) {
    return fmt::format("{}: {}", Name(record.outcome), OneLine(record.message));
  }
  switch (record.finding) {
    case compare::Finding::kDeparts:
      return "departs";
    case compare::Finding::kNoDepartureFound:
      return "no departure found";
    case compare::Finding::kCannotTell:
      return "cannot tell";
  }
  DEBOSSIER_ASSERT(!"a finding outside its enumeration");
}

}  // namespace

std::string Duration(double seconds) {
  const double s = std::max(0.0, seconds);
  if (s < 55) return fmt::format("{:.0f} s", std::ceil(s / 5) * 5);
  const long minutes = std::lround(s / 60);
  if (minutes < 60) return fmt::format("{} min", minutes);
  return fmt::format("{} h {} min", minutes / 60, minutes % 60);
}

void Progress::Add(const Step& step) {
  ++done_;
  reused_ += step.reused;
  const bool compared = step.record.outcome == Outcome::kCompared;
  departs_ += compared && step.record.finding == compare::Finding::kDeparts;
  left_out_ += !compared;
}

std::string Progress::TimeLeft(double seconds) const {
  const std::size_t fresh = done_ - reused_;
  if (fresh < 2 || done_ >= total_) return "";
  const double each = seconds / static_cast<double>(fresh);
  const std::size_t known = recorded_ - std::min(recorded_, reused_);
  const std::size_t left = total_ - done_;
  return fmt::format("about {} left",
                     Duration(each * static_cast<double>(left - std::min(left, known))));
}

std::string Progress::Bar(int columns, double seconds) const {
  std::string words = fmt::format(" {}/{}  {} depart", done_, total_, departs_);
  if (left_out_ > 0) words += fmt::format("  {} not compared", left_out_);
  const std::string left = TimeLeft(seconds);
  if (!left.empty()) words += "  " + left;
  const int width = std::min(kMostBar, columns - 3 - static_cast<int>(words.size()));
  if (width < 5) return words.substr(1, static_cast<std::size_t>(std::max(0, columns - 1)));
  const auto filled = static_cast<std::size_t>(width) * done_ / std::max<std::size_t>(1, total_);
  return fmt::format("[{}{}]{}", std::string(filled, '#'),
                     std::string(static_cast<std::size_t>(width) - filled, '.'), words);
}

std::string Progress::Line(const Step& step, double seconds) const {
  const std::string left = TimeLeft(seconds);
  return fmt::format("[{}/{}] {}: {}{}{}", done_, total_, OneLine(step.entry.name),
                     InWords(step.record), step.reused ? " (done before)" : "",
                     left.empty() ? "" : " (" + left + ")");
}

std::string EndInWords(const Tally& t, const std::filesystem::path& out) {
  std::string text = fmt::format(
      "{} of {} photos compared: {} depart, {} without a departure found, {} cannot tell.\n",
      t.compared, t.total, t.departs, t.no_departure_found, t.cannot_tell);
  if (t.refused + t.failed > 0)
    text += fmt::format("{} refused, {} failed:\n", t.refused, t.failed);
  for (std::size_t i = 0; i < std::min(kMostTold, t.left_out.size()); ++i) {
    const LeftOut& l = t.left_out[i];
    text += fmt::format("  {}{}: {}: {}{}\n", OneLine(l.name),
                        l.line > 0 ? fmt::format(" (line {})", l.line) : "", Name(l.outcome),
                        OneLine(l.message), l.hint.empty() ? "" : " (" + OneLine(l.hint) + ")");
  }
  if (t.left_out.size() > kMostTold) {
    text += fmt::format("  and {} more in batch.csv\n", t.left_out.size() - kMostTold);
  }
  if (t.dossiers > 0) {
    text += fmt::format("Dossiers of items: {}{}.\n", t.dossiers,
                        t.dossiers_reused > 0
                            ? fmt::format(", {} of them by an earlier run", t.dossiers_reused)
                            : "");
  }
  for (std::size_t i = 0; i < std::min(kMostTold, t.without_dossier.size()); ++i) {
    const auto& [item, why] = t.without_dossier[i];
    text += fmt::format("  no dossier of {}: {}\n", OneLine(item), OneLine(why));
  }
  if (t.reused > 0) text += fmt::format("{} were done by an earlier run.\n", t.reused);
  if (t.not_done > 0) {
    text += fmt::format("{} are not done yet: the same command goes on with them.\n", t.not_done);
  }
  if (!t.of_others.empty()) {
    text += fmt::format(
        "{} files there are of photos that are not in this run; remove them where "
        "they are no longer wanted:\n",
        t.of_others.size());
    for (std::size_t i = 0; i < std::min(kMostOthers, t.of_others.size()); ++i) {
      text += fmt::format("  {}\n", OneLine((out / t.of_others[i]).string()));
    }
    if (t.of_others.size() > kMostOthers) {
      text += fmt::format("  and {} more\n", t.of_others.size() - kMostOthers);
    }
  }
  return text + fmt::format("Overview: {}\n", (out / "index.html").string());
}

}  // namespace debossier::batch
