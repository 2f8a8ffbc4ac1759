// The sentences a departure can be told in. Each is a hypothesis with one amplitude.
//
// One row of the table a sentence: what it moves (its design vector), its unit, its words. Adding a
// sentence is one row and one test. Frame and units: pose.h.
// Not for: estimating (hypotheses.h), or how rare an amplitude must be to be said (budget.h).
#pragma once

#include <span>
#include <string>
#include <vector>

#include "compare/block_fit.h"
#include "compare/budget.h"
#include "compare/pose_design.h"
#include "outline/lettering.h"

namespace debossier::compare {

/// What a sentence can be about; it is tried on each.
enum class Scope {
  kPair,       ///< A letter and the next on its line.
  kLine,       ///< A line of two letters and more.
  kLaterLine,  ///< A line after the first.
  kLetter,
  kMark,
};

/// What is left free while a sentence is tried, since its honest form cannot be known.
enum class Frees {
  kNothing,
  kPlaceAlong,  ///< Lines centred on the wordmark move with it: along, of every later line.
  kOwnPlace,    ///< Along and across, of the line or the element itself.
  kOwnAlong,    ///< Along, of the element itself.
};

struct Subject {
  int line_idx = 0;
  std::size_t element = 0;  ///< Of a pair its left letter; of a line unused.
  std::size_t next = 0;     ///< Of a pair its right letter.
};

/// What the words of a sentence are made of.
struct SentenceParts {
  std::string name;    ///< Of the element; of a pair the left one.
  std::string next;    ///< Of a pair.
  std::string line;    ///< Text of the line.
  std::string amount;  ///< "1.6 % of cap height", "2.1 %"; without sign.
  std::string than;    ///< "than on the 6 verified items".
  bool positive = true;
};

struct Sentence {
  const char* key;      ///< Stable: "pair-wider". The subject follows it in results.
  const char* measure;  ///< The word reports group by: "gap", "tracking".
  Scope scope;
  Family family;
  const char* unit;  ///< "cap heights" or "ratio".
  Frees frees;
  /// What an amplitude of 1 does to an element's pose.
  PoseVector (*rows)(const PoseFrame& frame, const Subject& subject, std::size_t element);
  std::string (*words)(const SentenceParts& parts);
};
std::span<const Sentence> Sentences();

/// The family that a sentence belongs to on this subject: letters of later lines have their own.
Family FamilyOf(const Sentence& sentence, const Subject& subject);

/// All that a sentence of this scope is tried on.
std::vector<Subject> SubjectsOf(Scope scope, const PoseFrame& frame);

/// A design over all elements.
BlockColumn ColumnOf(PoseVector (*rows)(const PoseFrame&, const Subject&, std::size_t),
                     const PoseFrame& frame, const Subject& subject);

/// Columns that a sentence leaves free, over all elements.
std::vector<BlockColumn> FreedBy(const Sentence& sentence, const PoseFrame& frame,
                                 const Subject& subject);

}  // namespace debossier::compare
