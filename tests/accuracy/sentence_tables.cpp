// How the sentences behave on genuine photos: are their p uniform, how far do those without p go.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <tuple>

#include "accuracy/tables.h"
#include "compare/category_rates.h"

namespace debossier::accuracy {

namespace {

/// Largest distance of the empirical distribution from the uniform one (Kolmogorov and Smirnov).
double DistanceFromUniform(std::vector<double> p) {
  std::sort(p.begin(), p.end());
  double most = 0;
  const auto n = static_cast<double>(p.size());
  for (std::size_t i = 0; i < p.size(); ++i) {
    const auto at = static_cast<double>(i);
    most = std::max({most, (at + 1) / n - p[i], p[i] - at / n});
  }
  return most;
}

bool IsGenuine(const PhotoRow& row, int set_size) {
  return row.change == "genuine" && row.set_size == set_size && row.compared;
}

}  // namespace

std::string UniformityTable(const TrialResult& result, int set_size) {
  constexpr int kBins = 20;
  std::map<std::string, std::vector<double>> by_measure;
  for (const SentenceRow& s : result.sentences) {
    if (!s.p || !IsGenuine(result.photos[s.photo], set_size)) continue;
    by_measure[s.measure].push_back(*s.p);
    by_measure["all"].push_back(*s.p);
  }
  std::string text =
      "p of genuine photos, 20 equal parts of 0 to 1 (even heights: uniform), distance from "
      "uniform\n";
  for (const auto& [measure, p] : by_measure) {
    std::vector<int> bins(kBins, 0);
    for (const double v : p) ++bins[static_cast<std::size_t>(std::min(kBins - 1, int(v * kBins)))];
    std::string plot;
    for (const int count : bins) {
      // Eight heights; the middle one is what a uniform distribution puts there.
      static constexpr const char* kHeights[] = {" ", "▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"};
      const double share = static_cast<double>(count) * kBins / static_cast<double>(p.size());
      plot += kHeights[std::clamp(static_cast<int>(std::lround(4 * share)), 0, 8)];
    }
    text += fmt::format("{:22} |{}| {:6} values, Kolmogorov-Smirnov {:.3f}\n", measure, plot,
                        p.size(), DistanceFromUniform(p));
  }
  return text;
}

std::string LevelsTable(const TrialResult& result, int set_size) {
  struct Row {
    std::vector<double> z;
    int beyond = 0;
    double level = 0;
    std::map<std::size_t, bool> photos;
  };
  std::map<std::string, Row> rows;
  for (const SentenceRow& s : result.sentences) {
    const PhotoRow& photo = result.photos[s.photo];
    const bool copy = photo.change.starts_with(kCopy);
    if (photo.set_size != set_size || (photo.change != "genuine" && !copy)) continue;
    Row& row = rows[(copy ? "copies: " : "genuine: ") + s.measure +
                    (s.of_first_line ? "" : " (later lines)")];
    row.z.push_back(std::abs(s.z));
    row.level = s.level;
    row.photos[s.photo] = row.photos[s.photo] || std::abs(s.z) > s.level;
  }
  std::string text = fmt::format("{:44} {:>6} {:>7} {:>6} {:>6} {:>7} {:>9}\n", "|z| of photos",
                                 "values", "photos", "99 %", "most", "level", "beyond");
  for (auto& [name, row] : rows) {
    std::sort(row.z.begin(), row.z.end());
    for (const auto& [photo, beyond] : row.photos) row.beyond += beyond;
    text += fmt::format("{:44} {:>6} {:>7} {:>6.2f} {:>6.2f} {:>7.2f} {:>9}\n", name, row.z.size(),
                        row.photos.size(), row.z[row.z.size() * 99 / 100], row.z.back(), row.level,
                        row.beyond);
  }
  return text;
}

std::string CategoryCounts(const TrialResult& result) {
  using compare::Category;
  struct Counts {
    int genuine = 0;
    int said_of_genuine = 0;
    int departing = 0;
    int flagged = 0;
    int named = 0;
  };
  // In the order of the enumeration.
  static constexpr std::array<const char*, 7> kNames = {
      "kLetterForm", "kLineForm",    "kCase",      "kMarkForm",
      "kMarkAbsent", "kFrameAbsent", "kFrameAdded"};
  std::map<std::tuple<Category, int, int>, Counts> cells;
  for (const CategoryRow& row : result.categories) {
    const auto& t = row.trial;
    Counts& counts = cells[{t.category, compare::SizeCell(t.size_px), compare::BlurCell(t.blur)}];
    ++(row.departs ? counts.departing : counts.genuine);
    (row.departs ? counts.named : counts.said_of_genuine) += t.seen;
    counts.flagged += row.departs && row.flagged;
  }
  std::string text;
  for (const auto& [cell, n] : cells) {
    const auto& [category, size, blur] = cell;
    text += fmt::format("{{Category::{}, {}, {}, {}, {}, {}, {}, {}}},  // {}, {}\n",
                        kNames[static_cast<std::size_t>(category)], size, blur, n.genuine,
                        n.said_of_genuine, n.departing, n.flagged, n.named,
                        compare::SizeCellInWords(size), compare::BlurCellInWords(blur));
  }
  return text;
}

}  // namespace debossier::accuracy
