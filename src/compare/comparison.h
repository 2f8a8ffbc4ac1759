// The outcome of comparing one photo with one reference set: what the JSON and the PDF print.
//
// Reports compute nothing; everything they show stands here.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "card/scale.h"
#include "measure/measurements.h"
#include "outline/lettering.h"

namespace debossier::compare {

enum class Finding { kDeparts, kNoDepartureFound, kCannotTell };
const char* Name(Finding finding);  ///< "departs", "no-departure-found", "cannot-tell"

/// One measured feature against the verified items.
struct Feature {
  std::string measure;                ///< "gap", "letter height", "mark gap", "letterform"...
  std::vector<std::string> elements;  ///< Ids concerned.
  std::string label;  ///< For people: "gap A-V", "mark ® gap", "height of R (5th)".
  std::string unit;   ///< "cap heights", "ratio", "degrees" or "share".
  double value = 0;
  double u = 0;                   ///< Of the value, this photo.
  double expected = 0;            ///< Mean of the verified items.
  double spread = 0;              ///< Standard deviation between verified items, as used.
  double degrees_of_freedom = 0;  ///< Of the predictive distribution.
  double z = 0;                   ///< (value - expected) / predictive standard deviation.
  double p = 1;                   ///< Two-sided, before correction.
  double p_adjusted = 1;          ///< Holm, over the photo's features.
  double detection_limit = 0;     ///< Smallest departure this photo and set would have flagged.
  bool departs = false;
  bool decidable = true;      ///< False: cannot tell (limit worse than the set asks).
  std::vector<double> items;  ///< Values of the verified items, where the set has them.
};

/// Why the finding is what it is, in numbers and in words.
struct Reason {
  std::string measure;
  std::vector<std::string> elements;
  double value = 0;
  double u = 0;
  double expected = 0;
  double spread = 0;
  std::string unit;
  double p = 1;
  double effect = 0;  ///< Size of the departure, % of cap height (0 where it has none).
  std::string text;   ///< One sentence a client understands.
};

struct PhotoRecord {
  std::string file;
  std::string sha256;
  int width = 0;
  int height = 0;
  /// EXIF's focal length for a 35 mm frame, mm: how strongly a tilt of the camera shows as
  /// perspective. For whoever reads the result; no stage of the measurement uses it.
  std::optional<double> focal_length_35mm = std::nullopt;
};

struct Comparison {
  PhotoRecord photo;
  std::string refset_id;
  int refset_revision = 0;
  std::string refset_maker;  ///< Labels, any script.
  std::string refset_period;
  int refset_items = 0;           ///< Verified items behind the statistics; 0: from a font only.
  bool refset_simulated = false;  ///< Demo data: invented maker, simulated photos.
  std::string program_version;
  std::vector<std::pair<std::string, std::string>> options;  ///< As used, name and value.

  Finding finding = Finding::kCannotTell;
  std::string summary;             ///< The finding in one plain sentence.
  double score = 0;                ///< Larger = further from the verified items.
  double false_flag_rate = 0.005;  ///< Over the whole photo.
  std::vector<Reason> reasons;     ///< Strongest first. For cannot-tell: what could not be told.
  std::vector<Feature> features;
  std::vector<std::string> advice;  ///< What to photograph again, and how.

  /// Millimetres at the stamp; empty where nobody asked for them.
  std::optional<card::Scale> scale;

  outline::Lettering reference;  ///< Consensus outlines, stamp frame.
  measure::Measurements measured;
};

/// The cautions that every report shows.
const std::vector<std::string>& Cautions();

}  // namespace debossier::compare
