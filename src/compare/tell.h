// From hypotheses to what is said: sentences with names and amounts, departures of form and
// category, and values beside the set's.
//
// Not for: estimating (hypotheses.h).
#pragma once

#include <optional>
#include <set>
#include <string>
#include <vector>

#include "card/scale.h"
#include "compare/comparison.h"
#include "compare/hypotheses.h"
#include "fit/place_lettering.h"
#include "measure/features.h"

namespace debossier::compare {

/// Every hypothesis that was tried, in words.
std::vector<TriedSentence> Tell(const Hypotheses& hypotheses, const refset::RefSet& set,
                                const std::optional<card::Scale>& scale = std::nullopt);

/// What departs among the hypotheses, strongest first.
std::vector<Reason> DeparturesOf(const Hypotheses& hypotheses, const refset::RefSet& set,
                                 const std::optional<card::Scale>& scale = std::nullopt);

/// Categories: cases, frame, letters that are something else, and what could not be told.
struct CategoryOutcome {
  std::vector<Reason> departures;
  std::vector<Reason> untold;
};
CategoryOutcome CompareCategories(const refset::RefSet& set, const measure::Measurements& measured,
                                  const fit::PlaceReport& placed);

/// Letters whose form is another. `strength`: of the strongest, above 1 where it departs; what
/// genuine photos reach was measured (category_rates.h).
struct FormOutcome {
  std::vector<Reason> departures;
  double strength = 0;
  std::set<std::string> lines;  ///< Ids of lines that are other lettering as a whole.
};
/// `other`: ids of letters in whose place something else stands.
FormOutcome CompareForms(const refset::RefSet& set, const measure::Measurements& measured,
                         const std::vector<double>& misfits, const std::set<std::string>& other);

/// Values with what the set says of each.
std::vector<Feature> BesideSet(const refset::RefSet& set,
                               const std::vector<measure::FeatureValue>& values);

/// The measured value that a departure is about: a letter's size is shown by its height, its place
/// across by its foot. Null where it has none.
const Feature* FeatureOf(const Comparison& comparison, const Reason& reason);

/// Of an element, the id of its line; lines, marks and frames have their own.
inline std::string LineOf(const std::string& id) { return id.substr(0, id.find('.')); }

/// Less of the lettering was found than lets anything be told of the whole.
inline bool IsTooLittle(std::size_t found, std::size_t all) { return 10 * found < 6 * all; }
/// The places of more than half of the letters cannot be told as closely as the set asks.
inline bool AreTooMany(std::size_t untold, std::size_t asked) { return 2 * untold > asked; }

}  // namespace debossier::compare
