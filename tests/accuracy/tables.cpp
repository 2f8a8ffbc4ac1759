#include "accuracy/tables.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>

#include "base/files.h"
#include "compare/statistics.h"
#include "simulate/departures.h"

namespace debossier::accuracy {

namespace {

bool InHalf(int die, Half half) {
  const bool unseen = DiePlans()[static_cast<std::size_t>(die)].unseen;
  return half == Half::kAll || (half == Half::kUnseen) == unseen;
}

double Quantile(std::vector<double> values, double q) {
  if (values.empty()) return std::nan("");
  std::sort(values.begin(), values.end());
  const double at = q * static_cast<double>(values.size() - 1);
  const auto low = static_cast<std::size_t>(at);
  const std::size_t high = std::min(low + 1, values.size() - 1);
  return values[low] + (at - static_cast<double>(low)) * (values[high] - values[low]);
}

std::string Line(const std::string& name, const std::string& value, const std::string& target,
                 std::size_t count) {
  return fmt::format("{:44} {:>16} {:>14} {:>7}\n", name, value, target, count);
}

struct ErrorTarget {
  const char* measure;
  const char* name;
  const char* target;
};

std::string ErrorLines(const TrialResult& result, const std::vector<bool>& use) {
  const std::vector<ErrorTarget> targets = {
      {"gap", "gap of neighbouring letters", ".25 / 1.0"},
      {"mark gap", "mark gap", ".4 / 1.5"},
      {"letter height", "letter height", ".3 / 1.0"},
      {"letter width", "letter width", "-"},
      {"mark size", "mark size", "-"},
      {"line height", "origin line height", ".4 / 1.2"},
  };
  std::string text;
  std::size_t within = 0;
  std::size_t all = 0;
  for (const auto& t : targets) {
    std::vector<double> error;
    std::vector<double> bare;
    std::size_t covered = 0;
    for (const auto& m : result.measures) {
      if (!use[m.photo] || !m.has_truth || m.measure != t.measure) continue;
      error.push_back(100 * std::abs(m.error));
      bare.push_back(100 * std::abs(m.bare_error));
      covered += std::abs(m.error) <= 2 * m.u;
    }
    within += covered;
    all += error.size();
    text += Line(std::string(t.name) + ", median / p95",
                 fmt::format("{:.2f} / {:.2f}", Quantile(error, 0.5), Quantile(error, 0.95)),
                 t.target, error.size());
    text += Line("   against the die without gain",
                 fmt::format("{:.2f} / {:.2f}", Quantile(bare, 0.5), Quantile(bare, 0.95)), "-",
                 error.size());
    text +=
        Line("   truth within U, %",
             fmt::format("{:.1f}", 100.0 * static_cast<double>(covered) /
                                       static_cast<double>(std::max<std::size_t>(1, error.size()))),
             "93 to 98", error.size());
  }
  text += Line("truth within U, all, %",
               fmt::format("{:.1f}", 100.0 * static_cast<double>(within) /
                                         static_cast<double>(std::max<std::size_t>(1, all))),
               "93 to 98", all);
  return text;
}

std::string Share(int hits, int count) {
  return count > 0 ? fmt::format("{:.1f} %", 100.0 * hits / count) : "-";
}

/// One row of the table of findings.
std::string FindingLine(const std::string& name, const std::string& target,
                        const std::vector<const PhotoRow*>& rows,
                        const std::function<bool(const PhotoRow&)>& hit) {
  int hits = 0;
  for (const PhotoRow* row : rows) hits += hit(*row);
  const int count = static_cast<int>(rows.size());
  const compare::Interval interval = compare::WilsonInterval(hits, count);
  return fmt::format("{:34} {:>8} {:>10} {:>6}   {:.1f} to {:.1f} %\n", name, Share(hits, count),
                     target, count, 100 * interval.low, 100 * interval.high);
}

/// A photo that is refused because its lettering was not found is caught too: nobody is told that
/// nothing departs.
bool Caught(const PhotoRow& row) { return !row.compared || row.finding == "departs"; }

bool IsGapRight(const PhotoRow& row) {
  constexpr double kRight = 0.015;  // cap heights
  return row.mark_gap_error && std::abs(*row.mark_gap_error) <= kRight;
}

/// What is said of lines that are set in another case than the set's.
std::string CaseLines(const TrialResult& result, int set_size, Half half) {
  std::vector<const PhotoRow*> rows;
  int refused = 0;
  for (const PhotoRow& row : result.photos) {
    if (row.set_size != set_size || !InHalf(row.die, half)) continue;
    if (row.case_named != CaseNamed::kNotAsked) rows.push_back(&row);
    refused += !row.compared && simulate::CaseAsked(row.change);
  }
  const auto named = [](CaseNamed which) {
    return [which](const PhotoRow& row) { return row.case_named == which; };
  };
  return FindingLine("line in another case, named right", ">= 93 %", rows,
                     named(CaseNamed::kRight)) +
         FindingLine("   named wrong", "<= .5 %", rows, named(CaseNamed::kWrong)) +
         FindingLine("   cannot tell", "-", rows, named(CaseNamed::kUntold)) +
         FindingLine("   flagged", "100 %", rows,
                     [](const PhotoRow& row) { return row.finding == "departs"; }) +
         fmt::format("{:34} {:>8}\n", "   refused beside these", refused);
}

std::string Quoted(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"') out += '"';
    out += c;
  }
  return out + "\"";
}

}  // namespace

std::string MeasuresTable(const TrialResult& result, int set_size, Half half) {
  std::vector<bool> use(result.photos.size());
  int genuine = 0;
  int placed = 0;
  int right = 0;
  int wrong = 0;
  int untold = 0;
  int lines = 0;
  int lines_right = 0;
  for (std::size_t i = 0; i < use.size(); ++i) {
    const PhotoRow& row = result.photos[i];
    if (row.change != "genuine" || row.set_size != set_size || !InHalf(row.die, half)) continue;
    use[i] = true;
    ++genuine;
    placed += row.compared && row.unplaced == 0 && row.place_error <= 0.05;
    right += row.cases_right;
    wrong += row.cases_wrong;
    untold += row.cases_untold;
    lines += row.compared;
    lines_right += row.compared && row.line_cases_right;
  }
  std::string text =
      fmt::format("{:44} {:>16} {:>14} {:>7}\n", "genuine photos", "reached", "asked", "count");
  const auto count = static_cast<std::size_t>(genuine);
  text += Line("placed, every element within 5 %", Share(placed, genuine), ">= 99 %", count);
  text += Line("case per letter, where decided", Share(right, right + wrong), ">= 99.8 %",
               static_cast<std::size_t>(right + wrong));
  text += Line("   letters not decided", Share(untold, right + wrong + untold), "-",
               static_cast<std::size_t>(right + wrong + untold));
  text += Line("case of every line", Share(lines_right, lines), "100 %",
               static_cast<std::size_t>(lines));
  text += ErrorLines(result, use);
  std::vector<double> rms;
  int built = 0;
  int tried = 0;
  constexpr double kRightLetter = 0.02;  // cap heights
  int right_sets = 0;
  int ovals = 0;
  int right_ovals = 0;
  for (const SetRow& set : result.sets) {
    if (set.set_size != set_size || !InHalf(set.die, half)) continue;
    ++tried;
    built += set.built;
    if (!set.built) continue;
    rms.push_back(100 * set.outline_rms);
    const bool all_right = set.worst_letter <= kRightLetter;
    right_sets += all_right;
    const bool oval =
        DiePlans()[static_cast<std::size_t>(set.die)].frame == outline::FrameKind::kEllipse;
    ovals += oval;
    right_ovals += oval && all_right;
  }
  text += Line("traced outline RMS, median / worst",
               fmt::format("{:.2f} / {:.2f}", Quantile(rms, 0.5), Quantile(rms, 1)),
               set_size >= 6 ? "<= .6" : "<= 1.2", rms.size());
  text += Line("sets with every letter right to 2 %", Share(right_sets, built), "100 %",
               static_cast<std::size_t>(built));
  text += Line("   of those with an oval", Share(right_ovals, ovals), ">= 98 %",
               static_cast<std::size_t>(ovals));
  text += Line("sets built", Share(built, tried), "100 %", static_cast<std::size_t>(tried));
  return text;
}

std::string FindingsTable(const TrialResult& result, int set_size, Half half) {
  const auto rows_of = [&](const std::string& change, double amount) {
    std::vector<const PhotoRow*> rows;
    for (const PhotoRow& row : result.photos) {
      if (row.change == change && row.amount == amount && row.set_size == set_size &&
          InHalf(row.die, half)) {
        rows.push_back(&row);
      }
    }
    return rows;
  };
  std::string text = fmt::format("{:34} {:>8} {:>10} {:>6}   95 % interval\n", "photos", "reached",
                                 "asked", "count");
  const auto departs = [](const PhotoRow& r) { return r.finding == "departs"; };
  const auto genuine = rows_of("genuine", 0);
  text += FindingLine("genuine flagged", "<= .5 %", genuine, departs);
  std::vector<const PhotoRow*> compared;
  for (const PhotoRow* row : genuine) {
    if (row->compared) compared.push_back(row);
  }
  text += FindingLine("genuine whose mark is found", ">= 99 %", compared,
                      [](const PhotoRow& r) { return r.mark_found; });
  text += FindingLine("genuine cannot tell", "<= 5 %", genuine,
                      [](const PhotoRow& r) { return r.finding == "cannot-tell"; });
  text +=
      FindingLine("genuine refused", "-", genuine, [](const PhotoRow& r) { return !r.compared; });
  int told = 0;
  int told_right = 0;
  for (const Change& change : Changes()) {
    const auto rows = rows_of(change.name, change.amount);
    std::string name = change.name;
    if (change.amount != 0) name += fmt::format(" {:+g} %", 100 * change.amount);
    if (change.is_departure) {
      text += FindingLine(name + " caught", fmt::format(">= {:g} %", 100 * change.target), rows,
                          Caught);
      for (const PhotoRow* row : rows) {
        told += row->finding == "departs";
        told_right += row->finding == "departs" && row->reason_is_true;
      }
      if (change.name == "mark-gap") {
        std::vector<const PhotoRow*> found;
        for (const PhotoRow* row : rows) {
          if (row->mark_found) found.push_back(row);
        }
        text += FindingLine("   where the mark was found", "", found, Caught);
        text += FindingLine("   distance right to 1.5 %", ">= 99 %", found, IsGapRight);
      }
    } else {
      text += FindingLine(name + " flagged", "<= .5 %", rows, departs);
    }
  }
  text += CaseLines(result, set_size, half);
  text += fmt::format("{:34} {:>8} {:>10} {:>6}\n", "first reason is the true one",
                      Share(told_right, told), ">= 90 %", told);
  return text;
}

std::string DegradationsTable(const TrialResult& result, int set_size) {
  struct Row {
    int count = 0;
    int flagged = 0;
    int cannot_tell = 0;
    int refused = 0;
    int falsely_sure = 0;
  };
  std::map<std::string, Row> rows;
  for (const PhotoRow& photo : result.photos) {
    const bool copy = photo.change.starts_with(kCopy);
    if (photo.set_size != set_size || !(copy || photo.change == "genuine")) continue;
    std::vector<std::string> names = {photo.change};
    if (copy) names.emplace_back("all copies");
    for (const std::string& name : names) {
      Row& row = rows[name];
      ++row.count;
      row.flagged += photo.finding == "departs";
      row.cannot_tell += photo.finding == "cannot-tell";
      row.refused += !photo.compared;
      row.falsely_sure += photo.falsely_sure > 0;
    }
  }
  std::string text =
      fmt::format("{:26} {:>6} {:>9} {:>9} {:>9} {:>9}   {}\n", "genuine photos", "count",
                  "flagged", "untold", "refused", "misplaced", "flagged, 95 % interval");
  for (const auto& [name, row] : rows) {
    const compare::Interval interval = compare::WilsonInterval(row.flagged, row.count);
    text += fmt::format("{:26} {:>6} {:>9} {:>9} {:>9} {:>9}   {:.1f} to {:.1f} %\n", name,
                        row.count, Share(row.flagged, row.count), Share(row.cannot_tell, row.count),
                        Share(row.refused, row.count), Share(row.falsely_sure, row.count),
                        100 * interval.low, 100 * interval.high);
  }
  return text;
}

double AreaUnderCurve(const std::vector<double>& departing, const std::vector<double>& genuine) {
  double area = 0;
  for (const double s : departing) {
    for (const double g : genuine) area += s > g ? 1 : s == g ? 0.5 : 0;
  }
  const double pairs = static_cast<double>(departing.size() * genuine.size());
  return pairs > 0 ? area / pairs : 0;
}

std::string RocTable(const TrialResult& result, int set_size) {
  std::vector<double> genuine;
  std::map<std::string, std::vector<double>> departing;
  for (const PhotoRow& row : result.photos) {
    if (row.set_size != set_size || !row.compared) continue;
    if (row.change == "genuine") genuine.push_back(row.score);
    for (const Change& change : Changes()) {
      if (!change.is_departure || row.change != change.name || row.amount != change.amount)
        continue;
      departing[fmt::format("{} {:+g} %", change.name, 100 * change.amount)].push_back(row.score);
    }
  }
  std::string text = fmt::format("{:26} {:>9} {:>9} {:>9} {:>9} {:>8}\n", "caught at a score of",
                                 ".7", ".85", "1", "1.5", "area");
  const auto above = [](const std::vector<double>& scores, double threshold) {
    const auto count =
        std::count_if(scores.begin(), scores.end(), [&](double s) { return s > threshold; });
    return 100.0 * static_cast<double>(count) /
           static_cast<double>(std::max<std::size_t>(1, scores.size()));
  };
  const auto line = [&](const std::string& name, const std::vector<double>& scores) {
    return fmt::format("{:26} {:8.1f}% {:8.1f}% {:8.1f}% {:8.1f}% {:8.3f}\n", name,
                       above(scores, 0.7), above(scores, 0.85), above(scores, 1),
                       above(scores, 1.5), AreaUnderCurve(scores, genuine));
  };
  text += line("genuine", genuine);
  for (const auto& [name, scores] : departing) text += line(name, scores);
  return text;
}

Result<std::monostate> WriteCsv(const TrialResult& result, const std::filesystem::path& folder) {
  std::string photos =
      "photo,die,family,unseen,set_size,change,amount,seed,leather,finish,cap_px,compared,refusal,"
      "finding,score,reason,reason_is_true,mark_found,place_error,unplaced,falsely_sure,"
      "cases_right,cases_wrong,cases_untold,line_cases_right,case_named\r\n";
  for (std::size_t i = 0; i < result.photos.size(); ++i) {
    const PhotoRow& r = result.photos[i];
    const DiePlan& plan = DiePlans()[static_cast<std::size_t>(r.die)];
    photos += fmt::format(
        "{},{},{},{},{},{},{:g},{:x},{},{},{:.1f},{},{},{},{:.3f},{},{},{},{:.4f},{},{},{},{},{},{}"
        ",{}"
        "\r\n",
        i, plan.wordmark, Quoted(plan.family), int(plan.unseen), r.set_size, Quoted(r.change),
        r.amount, r.seed, r.leather, r.finish, r.cap_px, int(r.compared), Quoted(r.refusal),
        r.finding, r.score, Quoted(r.reason), int(r.reason_is_true), int(r.mark_found),
        r.place_error, r.unplaced, r.falsely_sure, r.cases_right, r.cases_wrong, r.cases_untold,
        int(r.line_cases_right), int(r.case_named));
  }
  std::string measures = "photo,measure,what,has_truth,error,bare_error,u,z\r\n";
  for (const MeasureRow& m : result.measures) {
    measures += fmt::format("{},{},{},{},{:.6f},{:.6f},{:.6f},{:.3f}\r\n", m.photo, m.measure,
                            Quoted(m.what), int(m.has_truth), m.error, m.bare_error, m.u, m.z);
  }
  std::string sentences = "photo,key,amplitude,u,z,level,limit,p\r\n";
  for (const SentenceRow& r : result.sentences) {
    sentences +=
        fmt::format("{},{},{:.6f},{:.6f},{:.3f},{:.3f},{:.6f},{}\r\n", r.photo, r.key, r.amplitude,
                    r.u, r.z, r.level, r.limit, r.p ? fmt::format("{:.3e}", *r.p) : "");
  }
  if (const auto done =
          WriteFileWhole(folder / "sentences.csv", sentences, IfExists::kReplace, "accuracy");
      !done) {
    return PassOn(done);
  }
  if (const auto done =
          WriteFileWhole(folder / "photos.csv", photos, IfExists::kReplace, "accuracy");
      !done) {
    return PassOn(done);
  }
  return WriteFileWhole(folder / "measures.csv", measures, IfExists::kReplace, "accuracy");
}

}  // namespace debossier::accuracy
