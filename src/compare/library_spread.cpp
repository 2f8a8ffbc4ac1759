// The natural spread that the sets of a library show.
#include <fmt/format.h>

#include <cmath>

#include "compare/set_model.h"

namespace debossier::compare {

refset::LibrarySpread SpreadOfLibrary(const refset::Library& library, const std::string& except,
                                      bool simulated) {
  refset::LibrarySpread spread;
  const auto ids = refset::ListSets(library);
  if (!ids) return spread;
  // The built-in spread has its say too, as in every set.
  double freedom = kUsualEffectDf;
  PoseVector elements = kUsualEffectDf * UsualElementSpread().cwiseAbs2();
  std::array<double, kEffectKinds> effects{};
  for (int k = 1; k < kEffectKinds; ++k) {
    effects[static_cast<std::size_t>(k)] =
        kUsualEffectDf * std::pow(UsualSpread(static_cast<EffectKind>(k)).deviation, 2);
  }
  for (const auto& id : *ids) {
    if (id == except) continue;
    const auto set = refset::LoadSet(library, id);
    if (!set || set->items.size() < 2 || set->simulated != simulated) continue;
    refset::RefSet by_itself = *set;
    by_itself
        .library_spread = {};  // or the first set's spread would be counted with each later one
    const SetModel model = LearnSet(by_itself);
    const double items = static_cast<double>(set->items.size()) - 1;
    elements += items * model.letter_spread.cwiseAbs2();
    for (std::size_t k = 1; k < effects.size(); ++k) {
      effects[k] += items * model.effects[k] * model.effects[k];
    }
    freedom += items;
    spread.freedom += static_cast<int>(items);
    spread.sets.push_back(fmt::format("{} revision {}", id, set->revision));
  }
  if (spread.sets.empty()) return spread;
  spread.elements = (elements / freedom).cwiseSqrt();
  for (int k = 1; k < kEffectKinds; ++k) {
    spread.effects[NameOf(static_cast<EffectKind>(k))] =
        std::sqrt(effects[static_cast<std::size_t>(k)] / freedom);
  }
  return spread;
}

}  // namespace debossier::compare
