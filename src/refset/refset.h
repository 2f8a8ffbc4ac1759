// A reference set: what verified items show, as outlines, places and measured features.
//
// On disk ("debossier-refset", version 2), in `refsets/<id>/`: `set.json` is the current revision,
// `revisions/<number>.json` every revision whole and `<number>.sha256` its hash, as `sha256sum -c`
// reads it, `outlines/` the UFO 3 folders they name (one glyph for each letter as it occurs),
// `photos/` the items' photos by their SHA-256. `glyphs/<id>.ufo` is a copy of the outlines to
// edit. Version 1 had `set.json` alone, with its outlines in `glyphs/`. Frame of the lettering:
// stamp (cap heights of the wordmark, y up). Not for: judging; compare reads sets and never writes
// them.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "base/quantity.h"
#include "base/result.h"
#include "fit/placement.h"
#include "measure/features.h"
#include "outline/lettering.h"

namespace debossier::refset {

inline constexpr const char* kFormatName = "debossier-refset";
inline constexpr int kFormatVersion = 2;

/// One verified item behind the set, with what was measured on its photo.
struct Item {
  std::string id;
  std::string photo_file;
  std::string photo_sha256;
  std::string photo_kept;  ///< Its name in `photos/` of the set; empty: not kept.
  std::string basis;       ///< Basis of verification, in the curator's words.
  std::string entered_by;
  std::string entered_on;
  double cap_height_px = 0;
  double blur_px = 0;
  double coverage = 0;
  std::string grain;  ///< measure::GrainOf; empty in sets of before it was kept.
  /// Where the set's lettering lies in the photo; empty in sets of before it was kept.
  std::optional<fit::Placement> placement;
  std::map<std::string, Measured> features;  ///< By FeatureValue::key.
  std::map<std::string, measure::Pose>
      poses;  ///< By element; empty in sets of before they were kept.
};

/// An item that was taken out: what it was, and why it went. Its numbers stay in older revisions.
struct RetiredItem {
  std::string id;
  std::string photo_file;
  std::string photo_sha256;
  std::string basis;
  std::string reason;
  std::string by;
  std::string on;
};

/// What made a revision out of the one before.
struct Change {
  std::string kind = "create";     ///< create, add, retire, undo or adopt.
  std::string by;                  ///< Who, from the option or the environment; never guessed.
  std::string on;                  ///< ISO 8601 date, the same.
  std::string reason;              ///< In the curator's words.
  std::vector<std::string> items;  ///< Ids concerned.
  int undone_to = 0;               ///< For undo: the revision this one equals.
};

struct Labels {
  std::string maker;  ///< Any script.
  std::string period;
  std::string notes;
  std::string entered_by;  ///< Who, from the option or the environment; never guessed.
  std::string entered_on;  ///< ISO 8601 date, the same.
};

/// What the library's other sets showed of natural spread when this set was made: what is believed
/// before its own items speak. Kept with the set, so that a later change of another set does not
/// change what this one says.
struct LibrarySpread {
  std::vector<std::string> sets;  ///< "<id> revision <n>"; empty: the built-in spread.
  int freedom = 0;                ///< Items beyond each set's first, in all.
  measure::PoseVector elements = measure::PoseVector::Zero();  ///< Standard deviations.
  std::map<std::string, double> effects;  ///< Standard deviations, by compare::NameOf(EffectKind).
};

/// The smallest departures that a photo must be able to show, or the answer is *cannot tell*.
struct Asks {
  double place = 0.03;  ///< Of letters and the mark, cap heights.
  double size = 0.04;   ///< Of letters, lines and the mark, as a share.
  std::vector<std::string>
      essential;  ///< "mark", "frame": a photo that does not show it cannot tell.
};

struct RefSet {
  std::string id;
  int revision = 1;
  Labels labels;
  bool simulated = false;    ///< Demo data: invented maker, simulated photos.
  bool free_aspect = false;  ///< The items' photos had no trustworthy ratio of x and y.
  std::string source;        ///< "photos" or "font <family name>".
  std::string mark;          ///< The sign beside the wordmark; empty: none.
  Asks asks;
  LibrarySpread library_spread;
  outline::Lettering lettering;
  /// Where the glyphs' origins lie, in step with the elements, for outlines that lie on the disk;
  /// kept as read, so that revisions with the same outlines do not creep. Empty: outlines are new.
  std::vector<outline::Point> origins;
  std::vector<Item> items;  ///< Empty for a set from a font.
  std::vector<RetiredItem> retired;
  Change change;
  int previous_revision = 0;     ///< 0: none.
  std::string previous_sha256;   ///< Of that revision's file: the history cannot be rewritten.
  bool outlines_edited = false;  ///< By hand; not what the photos' mean gives.
  std::string outlines_name;     ///< UFO folder.
  std::string outlines_sha256;   ///< outline::Digest; empty in version 1.
};

/// Mean, standard deviation and count of a feature over the items that have it; for a set without
/// items `count` is 0.
struct FeatureStatistics {
  double mean = 0;
  double deviation = 0;
  double mean_u = 0;  ///< Root mean square of the items' own uncertainty.
  int count = 0;
  std::vector<double> values;
  std::vector<double> u;  ///< Standard uncertainties, in step with the values.
};
FeatureStatistics StatisticsOf(const RefSet& set, const std::string& key);

/// How far an item's letters stand from the set's outlines: for a set from a font, how far the
/// photo agrees with the font. In cap heights, and of sizes as a share; 95 % of the letters lie
/// within.
struct OutlineAgreement {
  int elements = 0;
  double places = 0;
  double sizes = 0;
};
OutlineAgreement AgreementWithOutlines(const Item& item);

/// A library: a folder with `glyphs/` and `refsets/`.
struct Library {
  std::filesystem::path folder;
  std::filesystem::path glyphs() const { return folder / "glyphs"; }
  std::filesystem::path refsets() const { return folder / "refsets"; }
  std::filesystem::path set(const std::string& id) const { return refsets() / id; }
};

/// The refusal, with kSetMissing, where the library's folder is not there.
Unexpected NoLibrary(const Library& library);

/// Ids are path components: 1 to 64 of a-z, 0-9, '-' and '_', starting with a letter or figure.
bool IsValidId(const std::string& id);

/// The current revision, or an earlier one by its number (0: the current). Refuses with
/// kSetMissing, kSetUnreadable or kNewerFormat, naming the file; with kSetUnreadable too where the
/// current revision is not its own record, or an earlier one not the one that the next revision was
/// made from. Where the copy to edit is missing, it is put back.
Result<RefSet> LoadSet(const Library& library, const std::string& id, int revision = 0);

/// The same without outlines: quick, for lists and histories.
Result<RefSet> LoadSetRecord(const Library& library, const std::string& id, int revision = 0);

/// Every revision's record, oldest first. Refuses where one cannot be read, or where a revision's
/// file is not the one that the next revision was made from.
Result<std::vector<RefSet>> History(const Library& library, const std::string& id);

/// The file beside a revision's with its hash. Sets of before it was written have none.
std::filesystem::path HashFile(const std::filesystem::path& revision_file);

/// The file that holds a revision (0: the current); it need not exist.
std::filesystem::path RevisionFile(const Library& library, const std::string& id, int revision);

/// Ids of the sets in the library, sorted.
Result<std::vector<std::string>> ListSets(const Library& library);

/// A photo's file, to be kept with the set.
struct KeptPhoto {
  std::string name;  ///< "<sha256>.<jpg, png, tif or webp>".
  std::string bytes;
};

/// Writes a new set whole: its folder appears complete or not at all. Refuses with kOutputExists
/// where the id is taken, kSetMissing where the library's folder is not there, kOutputNotWritable.
Result<std::monostate> WriteNewSet(const Library& library, const RefSet& set,
                                   const std::vector<KeptPhoto>& photos = {});

/// The JSON text of a set, and back. `where` names the file in refusals.
std::string SetJson(const RefSet& set);
struct ParsedSet {
  RefSet set;                    ///< Elements without outlines yet.
  int version = kFormatVersion;  ///< As the file has it.
  struct Glyph {
    std::string name;
    outline::Point origin{0, 0};
  };
  std::vector<Glyph> glyphs;  ///< In step with the elements.
};
Result<ParsedSet> ParseSet(const std::string& json, const std::string& where);

}  // namespace debossier::refset
