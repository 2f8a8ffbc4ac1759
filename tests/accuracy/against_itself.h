// Simulated photos compared with a die itself as a set without items.
#pragma once

#include "accuracy/dies.h"
#include "compare/compare_photo.h"
#include "image/photo.h"
#include "refset/refset.h"
#include "simulate/simulate.h"

namespace debossier::accuracy {

/// A photo of `stamped`, taken with `options`, compared with `die`.
inline Result<compare::Comparison> Compared(const outline::Lettering& stamped,
                                            const outline::Lettering& die,
                                            const simulate::SimulateOptions& options) {
  const auto simulated = simulate::Simulate(stamped, options);
  if (!simulated) return PassOn(simulated);
  auto bytes = simulate::EncodeSimulated(*simulated);
  if (!bytes) return PassOn(bytes);
  const auto photo = image::PhotoFromBytes(std::move(*bytes), "simulated.jpg");
  if (!photo) return PassOn(photo);
  refset::RefSet set;
  set.id = "die";
  set.lettering = die;
  return compare::ComparePhoto(*photo, set);
}

/// The same of a die and itself with departures.
inline Result<compare::Comparison> AgainstItself(const DiePlan& plan,
                                                 std::vector<simulate::Departure> departures,
                                                 const simulate::SimulateOptions& options) {
  std::vector<simulate::Departure> none;
  const auto die = MakeDie(plan, none);
  if (!die) return PassOn(die);
  const auto changed = MakeDie(plan, departures);
  if (!changed) return PassOn(changed);
  return Compared(*changed, *die, options);
}

}  // namespace debossier::accuracy
