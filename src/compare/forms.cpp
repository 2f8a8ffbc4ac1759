// Letters of another form: their box does not fit what the other letters say, and their edge strays
// more than on the verified items.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/quantile.h"
#include "compare/tell.h"

namespace debossier::compare {

namespace {

/// Misfit beyond which a letter is another on its own, and with the form's distance (over what the
/// items show, what is common to the photo taken out) beside it. The largest of 10,300 letters on
/// genuine simulated photos, typical and hard, and on degraded copies of them was 3.5 alone, worn
/// ones taken as below; gilt on a real binding reaches 4.7.
constexpr double kMisfitAlone = 5;
constexpr double kMisfitBeside = 1.8;
constexpr double kDistanceBeside = 2.8;
/// Foil fills a mark's inside: genuine ones reached 9.
constexpr double kMisfitOfMark = 14;
/// A letter of which more than this share is missing is a poor witness of its form: for each
/// further tenth the limits grow by .6 times what they are for a whole one.
constexpr double kWornShare = 0.1;
constexpr double kOfWear = 6;

/// A line of which this share of letters does not fit, each by this much, is other lettering.
constexpr double kOfLine = 1.0 / 3;
constexpr double kMisfitInLine = 6;
constexpr double kDistanceInLine = 1.2;  // letters that only moved have the edge of the set's
constexpr int kFewestOfLine = 3;

struct Form {
  std::size_t element = 0;
  double distance = 0;
  double ratio = 0;  ///< The distance over what the items show, what is common taken out.
  double strength = 0;
};

/// How far each element that was found is from its form.
std::vector<Form> FormsOf(const refset::RefSet& set, const measure::Measurements& measured,
                          const std::vector<double>& misfits) {
  constexpr double kLeastUsual =
      0.003;  // cap heights: below it the items' own distance says little
  std::vector<Form> forms;
  std::vector<double> ratios;
  for (std::size_t i = 0; i < measured.elements.size(); ++i) {
    const auto& e = measured.elements[i];
    const auto items = refset::StatisticsOf(set, "letterform " + e.id);
    if (!e.found || e.read || items.count == 0) continue;
    ratios.push_back(e.shape.smooth_rms / std::max(kLeastUsual, items.mean));
    forms.push_back({i, e.shape.smooth_rms, 0, 0});
  }
  const double common = std::max(1.0, UpperMedian(ratios));
  for (std::size_t k = 0; k < forms.size(); ++k) {
    const double missing = measured.elements[forms[k].element].shape.missing;
    forms[k].ratio = ratios[k] / common;
    const double worn = 1 + kOfWear * std::max(0.0, missing - kWornShare);
    const double misfit = misfits[forms[k].element] / worn;
    const double beside = std::min(misfit / kMisfitBeside, forms[k].ratio / kDistanceBeside);
    const bool mark = measured.elements[forms[k].element].is_mark;
    forms[k].strength = mark ? misfit / kMisfitOfMark : std::max(misfit / kMisfitAlone, beside);
  }
  return forms;
}

Reason FormReason(Category category, std::vector<std::string> elements, std::string text) {
  Reason r;
  r.category = category;
  r.measure = "letterform";
  r.elements = std::move(elements);
  r.unit = "category";
  r.text = std::move(text);
  return r;
}

/// Lines of which many letters do not fit, in one sentence each.
void AddOtherLines(const refset::RefSet& set, const measure::Measurements& measured,
                   const std::vector<double>& misfits, const std::vector<Form>& forms,
                   const std::set<std::string>& other, FormOutcome& out) {
  std::vector<double> ratio(measured.elements.size(), 0.0);
  for (const Form& f : forms) ratio[f.element] = f.ratio;
  for (std::size_t l = 0; l < set.lettering.lines.size(); ++l) {
    std::vector<std::string> odd;
    int letters = 0;
    for (std::size_t i = 0; i < set.lettering.elements.size(); ++i) {
      const auto& e = set.lettering.elements[i];
      if (e.line_idx != static_cast<int>(l) || e.kind != outline::ElementKind::kLetter) continue;
      // Neither found nor something else in its place: worn, and no witness.
      const auto& seen = measured.elements[i];
      if (seen.read || (!seen.found && !other.contains(e.id))) continue;
      ++letters;
      const bool fits = misfits[i] <= kMisfitInLine || ratio[i] <= kDistanceInLine;
      if (!fits || other.contains(e.id)) odd.push_back(e.id);
    }
    const auto count = static_cast<int>(odd.size());
    if (count < kFewestOfLine || count < kOfLine * letters) continue;
    out.strength = std::max(out.strength, 2.0);
    out.lines.insert(set.lettering.lines[l].id);
    out.departures.push_back(FormReason(
        Category::kLineForm, std::move(odd),
        fmt::format(
            "\"{}\" is other lettering than on the verified items: {} of its {} letters are "
            "of another form (another face, case or text).",
            set.lettering.lines[l].text, count, letters)));
  }
}

}  // namespace

FormOutcome CompareForms(const refset::RefSet& set, const measure::Measurements& measured,
                         const std::vector<double>& misfits, const std::set<std::string>& other) {
  FormOutcome out;
  const auto forms = FormsOf(set, measured, misfits);
  AddOtherLines(set, measured, misfits, forms, other, out);
  const auto names = measure::NamesOf(set.lettering);
  for (const Form& f : forms) {
    out.strength = std::max(out.strength, f.strength);
    const auto& element = set.lettering.elements[f.element];
    const auto& line = set.lettering.lines[static_cast<std::size_t>(element.line_idx)];
    if (f.strength <= 1 || out.lines.contains(line.id)) continue;
    const bool mark = element.kind == outline::ElementKind::kMark;
    out.departures.push_back(FormReason(
        mark ? Category::kMarkForm : Category::kLetterForm, {element.id},
        fmt::format(
            "The {} {} in \"{}\" is of another form than on the verified items: place, size "
            "and edge do not fit together as theirs do (edge {:.1f} % of cap height off "
            "along its outline).",
            mark ? "mark" : "letter", names.at(element.id), line.text, 100 * f.distance)));
  }
  return out;
}

}  // namespace debossier::compare
