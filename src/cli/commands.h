// The commands of the program. Each adds its options to a CLI11 subcommand and runs a library job.
//
// Exit codes tell whether the job ran, not what was found: 0 when it did. README.md has the table.
#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "base/result.h"
#include "card/scale.h"
#include "compare/compare_photo.h"
#include "reading/read_text.h"
#include "refset/refset.h"
#include "report/report_fields.h"

namespace debossier::cli {

/// What every command may need.
struct Shared {
  std::string library = ".";
  refset::Library Library() const { return {library}; }
  /// Nothing is written there but by the commands that change sets.
  std::vector<std::filesystem::path> KeptFolders() const {
    return {Library().glyphs(), Library().refsets()};
  }
};

/// What to run after parsing; the result's text goes to standard output.
using Job = std::function<Result<std::string>()>;

/// What the program is, for its help.
inline constexpr const char* kAbout =
    "debossier compares the heat-stamped lettering on a leather item with reference sets built "
    "from verified items. Lettering alone proves nothing about an item; see README.md for the "
    "cautions.";

/// All commands. `shared` and `job` outlive `app`; parsing fills them.
void AddCommands(CLI::App& app, Shared& shared, Job& job);

void AddBatch(CLI::App& app, const Shared& shared, Job& job);
void AddCard(CLI::App& app, Job& job);
void AddCompare(CLI::App& app, const Shared& shared, Job& job);
void AddDesk(CLI::App& app, const Shared& shared, Job& job);
void AddDossier(CLI::App& app, const Shared& shared, Job& job);
void AddMeasure(CLI::App& app, const Shared& shared, Job& job);
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
  Result<reading::TextSpec> Spec() const;
};

/// Who examined what for whom, for reports.
struct ReportOptions {
  std::string file;
  report::ReportFields given;
  /// `one_photo`: with the fields that belong to one report alone.
  void AddTo(CLI::App& command, bool one_photo);
  /// Refuses as report::LoadReportFields.
  Result<report::ReportFields> Fields() const;
};

/// Refuses, with kItemsDoNotAgree and the photo's name, a photo whose lettering departs from `set`
/// as a questioned one would: by its case or face too, which an item's numbers do not hold.
Result<std::monostate> CheckPhotos(const std::vector<const image::Photo*>& photos,
                                   const refset::RefSet& set);

/// What holding the items of a new revision against each other says, in a sentence. Refuses, with
/// kItemsDoNotAgree, where one departs or they fall into two dies, unless the user allows it.
Result<std::string> CheckNewItems(const refset::RefSet& set, bool allow_departing);

/// How far each photo of a set from a font agrees with the font, a line for each item.
std::string FontAgreementInWords(const refset::RefSet& set);

/// A number of a revision given by hand; 0 stands for "not given" inside the program alone.
inline const CLI::Range kRevisionRange(1, 1'000'000);

/// The options that look for the scale card in a photo, one or many.
void AddCardOptions(CLI::App& command, card::ScaleOptions& options);
/// The same, and the scale given by hand for one photo.
void AddScaleOptions(CLI::App& command, card::ScaleOptions& options);

/// The options that say how photos are compared, one photo or many.
void AddCompareOptions(CLI::App& command, compare::CompareOptions& options);

}  // namespace debossier::cli
