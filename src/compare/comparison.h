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

/// One measured value beside what the verified items show. Findings come from the sentences, which
/// see all elements at once; this is for people who want the numbers.
struct Feature {
  std::string measure;                ///< "gap", "letter height", "mark gap", "letterform"...
  std::vector<std::string> elements;  ///< Ids concerned.
  std::string label;  ///< For people: "gap A-V", "mark ® gap", "height of R (5th)".
  std::string unit;   ///< "cap heights", "ratio", "degrees" or "share".
  double value = 0;
  double u = 0;         ///< Of the value: this photo's, and what the set's outlines do not know.
  double expected = 0;  ///< Mean of the verified items.
  double spread = 0;    ///< Standard deviation between verified items.
  double z = 0;         ///< (value - expected) in standard deviations of spread and photo together.
  bool departs = false;       ///< A sentence that is said is about this value.
  std::vector<double> items;  ///< Values of the verified items, where the set has them.
};

/// How many genuine photos lay beyond a level that no known distribution gives.
struct MeasuredShare {
  int beyond = 0;
  int photos = 0;
};

/// One sentence, tried on this photo: the hypothesis, its amplitude, and whether it is said.
struct TriedSentence {
  std::string key;                    ///< "pair-wider wordmark.3 wordmark.4".
  std::string measure;                ///< What it is about: "gap", "tracking", "letter size"...
  std::vector<std::string> elements;  ///< Ids of elements, or of a line.
  std::string label;                  ///< For people: "gap A-V".
  std::string unit;                   ///< Of the amplitude: "cap heights" or "ratio".
  double amplitude = 0;
  double u = 0;
  double z = 0;
  double level = 0;                     ///< |z| beyond which it is said.
  std::optional<double> p;              ///< Two-sided, of it alone; where its tail is a known one.
  std::optional<MeasuredShare> beyond;  ///< Where it is not.
  double limit = 0;        ///< The smallest amplitude that nine of ten such photos would show.
  bool departs = false;    ///< It is said.
  bool decidable = false;  ///< The limit is no worse than the set asks.
  std::string text;        ///< As it is said.
};

/// What has no amount: something else stands there, or nothing does.
enum class Category {
  kLetterForm,  ///< One letter, or a few, of another form.
  kLineForm,    ///< A line in another face or text.
  kCase,        ///< A line in another case.
  kMarkForm,
  kMarkAbsent,
  kFrameAbsent,
  kFrameAdded,
};
const char* Name(Category category);  ///< "letter-form", "mark-absent"...

/// One category that the photo could show, of one line, the mark or the frame.
struct CategoryTrial {
  Category category{};
  std::string subject;  ///< Id of the line or of the mark, or "frame".
  double size_px = 0;   ///< Height concerned.
  double blur = 0;      ///< Standard deviation of the edges, as a share of that height.
  bool seen = false;
  bool may_be_said = false;  ///< By how often genuine photos like this one show it.
  bool would_show = true;    ///< By how often photos that have it are flagged.
  MeasuredShare genuine;     ///< Said of genuine photos of this size and blur.
  MeasuredShare departing;   ///< Such photos that have it, flagged.
};

/// Why the finding is what it is, in numbers and in words.
struct Reason {
  std::string measure;
  std::vector<std::string> elements;
  double value = 0;  ///< Amplitude of a sentence; 0 for what has no number.
  double u = 0;
  std::string unit;  ///< "cap heights", "ratio" or "category".
  double z = 0;
  double level = 0;         ///< |z| beyond which it is said.
  std::optional<double> p;  ///< Two-sided, before correction; where the tail is a known one.
  double effect = 0;        ///< Size of the departure, % of cap height (0 where it has none).
  std::string text;         ///< One sentence a client understands.
  std::optional<Category> category = std::nullopt;     ///< Of what has no amount.
  std::optional<MeasuredShare> beyond = std::nullopt;  ///< Genuine photos of which it was said.
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
  std::string summary;  ///< The finding in one plain sentence.
  /// The set's own item that this photo shows, by the photo's hash or the grain of the leather: the
  /// set cannot speak against it. Empty: none that is known.
  std::string own_item;
  /// The strongest departure over the level beyond which it is said: above 1 for what departs.
  double score = 0;
  double false_flag_rate = 0.005;  ///< Over the whole photo.
  std::vector<Reason> reasons;     ///< Strongest first. For cannot-tell: what could not be told.
  std::vector<TriedSentence> sentences;  ///< By measure; those that could be tried.
  std::vector<CategoryTrial> categories;
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
