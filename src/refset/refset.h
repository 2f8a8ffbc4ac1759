// A reference set: what verified items show, as outlines, places and measured features.
//
// On disk ("debossier-refset", version 1): `refsets/<id>/set.json` and the outlines it names in
// `glyphs/`, one UFO 3 folder a revision, one glyph per occurrence of a letter.
// Frame of the lettering: stamp (cap heights of the wordmark, y up).
// Not for: judging; compare reads sets and never writes them.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <variant>
#include <vector>

#include "base/quantity.h"
#include "base/result.h"
#include "measure/features.h"
#include "outline/lettering.h"

namespace debossier::refset {

inline constexpr const char* kFormatName = "debossier-refset";
inline constexpr int kFormatVersion = 1;

/// One verified item behind the set, with what was measured on its photo.
struct Item {
  std::string id;
  std::string photo_file;
  std::string photo_sha256;
  std::string basis;  ///< Basis of verification, in the curator's words.
  double cap_height_px = 0;
  double blur_px = 0;
  double coverage = 0;
  std::map<std::string, Measured> features;  ///< By FeatureValue::key.
};

struct Labels {
  std::string maker;  ///< Any script.
  std::string period;
  std::string notes;
  std::string entered_by;  ///< Who, from the option or the environment; never guessed.
  std::string entered_on;  ///< ISO 8601 date, the same.
};

struct RefSet {
  std::string id;
  int revision = 1;
  Labels labels;
  bool simulated = false;    ///< Demo data: invented maker, simulated photos.
  bool free_aspect = false;  ///< The items' photos had no trustworthy ratio of x and y.
  std::string source;        ///< "photos" or "font <family name>".
  std::string mark;          ///< The sign beside the wordmark; empty: none.
  outline::Lettering lettering;
  std::vector<Item> items;  ///< Empty for a set from a font.
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

/// A library: a folder with `glyphs/` and `refsets/`.
struct Library {
  std::filesystem::path folder;
  std::filesystem::path glyphs() const { return folder / "glyphs"; }
  std::filesystem::path refsets() const { return folder / "refsets"; }
};

/// Ids are path components: 1 to 64 of a-z, 0-9, '-' and '_', starting with a letter or figure.
bool IsValidId(const std::string& id);

/// Refuses with kSetMissing, kSetUnreadable or kNewerFormat, naming the file.
Result<RefSet> LoadSet(const Library& library, const std::string& id);

/// Ids of the sets in the library, sorted.
Result<std::vector<std::string>> ListSets(const Library& library);

/// Writes a new set: outlines first, then the set, each whole. Refuses with kOutputExists where the
/// id is taken, kOutputNotWritable.
Result<std::monostate> WriteNewSet(const Library& library, const RefSet& set);

/// The JSON text of a set, and back. `where` names the file in refusals.
std::string SetJson(const RefSet& set, const std::string& outlines_name);
struct ParsedSet {
  RefSet set;  ///< Elements without outlines yet.
  std::string outlines_name;
  struct Glyph {
    std::string name;
    outline::Point origin{0, 0};
  };
  std::vector<Glyph> glyphs;  ///< In step with the elements.
};
Result<ParsedSet> ParseSet(const std::string& json, const std::string& where);

}  // namespace debossier::refset
