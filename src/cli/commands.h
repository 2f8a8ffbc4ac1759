// The commands of the program. Each adds its options to a CLI11 subcommand and runs a library job.
//
// Exit codes tell whether the job ran, not what was found: 0 when it did. README.md has the table.
#pragma once

#include <CLI/CLI.hpp>
#include <functional>
#include <string>

#include "base/result.h"
#include "card/scale.h"
#include "compare/compare_photo.h"
#include "layout/read_text.h"
#include "refset/refset.h"

namespace debossier::cli {

/// What every command may need.
struct Shared {
  std::string library = ".";
  refset::Library Library() const { return {library}; }
};

/// What to run after parsing; the result's text goes to standard output.
using Job = std::function<Result<std::string>()>;

void AddBatch(CLI::App& app, const Shared& shared, Job& job);
void AddCard(CLI::App& app, Job& job);
void AddCompare(CLI::App& app, const Shared& shared, Job& job);
void AddMeasure(CLI::App& app, Job& job);
void AddRefset(CLI::App& app, const Shared& shared, Job& job);
/// The subcommands of `refset` that change a set, and its history.
void AddRefsetChanges(CLI::App& refset, const Shared& shared, Job& job);

/// The subcommands of `refset` that look at a set as a whole.
void AddRefsetCheck(CLI::App& refset, const Shared& shared, Job& job);

/// The options that say what is stamped: lines, mark and frame.
struct LetteringOptions {
  std::vector<std::string> lines;
  std::string mark;
  std::string frame = "none";
  int frame_line = 0;  ///< 1-based; 0: around everything.
  void AddTo(CLI::App& command);
  Result<layout::TextSpec> Spec() const;
};

/// The options that look for the scale card in a photo, one or many.
void AddCardOptions(CLI::App& command, card::ScaleOptions& options);
/// The same, and the scale given by hand for one photo.
void AddScaleOptions(CLI::App& command, card::ScaleOptions& options);

/// The options that say how photos are compared, one photo or many.
void AddCompareOptions(CLI::App& command, compare::CompareOptions& options);

}  // namespace debossier::cli
