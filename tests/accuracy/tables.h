// The tables and CSV files of the accuracy program.
#pragma once

#include <filesystem>
#include <string>
#include <variant>
#include <vector>

#include "accuracy/trial.h"

namespace debossier::accuracy {

/// Which dies a table is about.
enum class Half { kAll, kTuned, kUnseen };

/// Errors of measured numbers on genuine photos, against their targets.
std::string MeasuresTable(const TrialResult& result, int set_size, Half half);

/// Whether the p of sentences are uniform on genuine photos: a plot and a distance by measure.
std::string UniformityTable(const TrialResult& result, int set_size);

/// How far the sentences of genuine photos and of their copies go, beside their levels: what
/// compare/budget.cpp states of families without p.
std::string LevelsTable(const TrialResult& result, int set_size);

/// Findings by change, with the number of photos and the 95 % interval (Wilson 1927).
std::string FindingsTable(const TrialResult& result, int set_size, Half half);

/// Flagged, cannot tell and refused by degradation, with the photos on which an element is off by
/// more than 5 % of cap height at a stated u below 1 %.
std::string DegradationsTable(const TrialResult& result, int set_size);

/// The counts of categories by size and blur, as compare/category_rates.inc holds them.
std::string CategoryCounts(const TrialResult& result);

/// Area under the curve of two lists of scores: the share of pairs in the right order, ties half
/// (Hanley and McNeil 1982); 0 where one is empty.
double AreaUnderCurve(const std::vector<double>& departing, const std::vector<double>& genuine);

/// Share of genuine photos and of departures found over the threshold of the score.
std::string RocTable(const TrialResult& result, int set_size);

/// photos.csv and measures.csv (RFC 4180) into an existing folder.
Result<std::monostate> WriteCsv(const TrialResult& result, const std::filesystem::path& folder);

}  // namespace debossier::accuracy
