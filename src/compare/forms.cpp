// Letters of another form: their box does not fit what the other letters say, and their edge strays
// more than on the verified items.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/quantile.h"
#include "compare/tell.h"

namespace debossier::compare {

namespace {

/// Misfit beyond which a letter is another on its own, and with the form's distance beside it. On
/// 180 genuine simulated photos the largest were 4.0 and 4.0; on 540 degraded copies 16.9 and 8.9.
constexpr double kMisfitAlone = 30;
constexpr double kMisfitBeside = 10;
/// The edge's distance over what the items show, what is common to the photo taken out.
constexpr double kDistanceBeside = 2;

struct Form {
  std::size_t element = 0;
  double distance = 0;
  double ratio = 0;
};

}  // namespace

FormOutcome CompareForms(const refset::RefSet& set, const measure::Measurements& measured,
                         const std::vector<double>& misfits) {
  constexpr double kLeastUsual =
      0.003;  // cap heights: below it the items' own distance says little
  std::vector<Form> forms;
  std::vector<double> ratios;
  for (std::size_t i = 0; i < measured.elements.size(); ++i) {
    const auto& e = measured.elements[i];
    const auto items = refset::StatisticsOf(set, "letterform " + e.id);
    if (!e.found || items.count == 0) continue;
    const double ratio = e.shape.smooth_rms / std::max(kLeastUsual, items.mean);
    forms.push_back({i, e.shape.smooth_rms, ratio});
    ratios.push_back(ratio);
  }
  const double common = std::max(1.0, Median(ratios));
  FormOutcome out;
  const auto names = measure::NamesOf(set.lettering);
  for (const Form& f : forms) {
    const double misfit = misfits[f.element];
    const double beside = std::min(misfit / kMisfitBeside, f.ratio / common / kDistanceBeside);
    const double strength = std::max(misfit / kMisfitAlone, beside);
    out.strength = std::max(out.strength, strength);
    if (strength <= 1) continue;
    const auto& element = set.lettering.elements[f.element];
    Reason r;
    r.measure = "letterform";
    r.elements = {element.id};
    r.unit = "category";
    r.text = fmt::format(
        "The {} {} in \"{}\" is of another form than on the verified items: place, size and edge "
        "do "
        "not fit together as theirs do (edge {:.1f} % of cap height off along its outline).",
        element.kind == outline::ElementKind::kMark ? "mark" : "letter", names.at(element.id),
        set.lettering.lines[static_cast<std::size_t>(element.line_idx)].text, 100 * f.distance);
    out.departures.push_back(std::move(r));
  }
  return out;
}

}  // namespace debossier::compare
