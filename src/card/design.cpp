#include "card/design.h"

#include <array>
#include <cmath>
#include <numbers>

namespace debossier::card {

namespace {

constexpr double kEdge = kArmMm / 2;
constexpr double kLongStep = (kWidthMm - kArmMm) / 6;
constexpr double kShortStep = (kHeightMm - kArmMm) / 3;

std::array<Fiducial, 11> Build() {
  return {{{{kEdge, kEdge}, 155},
           {{kEdge + kLongStep, kEdge}, 213},
           {{kEdge + 2 * kLongStep, kEdge}, 587},
           {{kEdge + 3 * kLongStep, kEdge}, 787},
           {{kEdge + 4 * kLongStep, kEdge}, 829},
           {{kEdge + 5 * kLongStep, kEdge}, 1279},
           {{kEdge + 6 * kLongStep, kEdge}, 1321},
           {{kEdge, kEdge + kShortStep}, 1447},
           {{kEdge, kEdge + 2 * kShortStep}, 2363},
           {{kEdge, kEdge + 3 * kShortStep}, 2811},
           {{kEdge + 6 * kLongStep, kEdge + 3 * kShortStep}, 2991}}};
}

}  // namespace

std::span<const Fiducial> Fiducials() {
  static const std::array<Fiducial, 11> kFiducials = Build();
  return kFiducials;
}

bool IsInk(const Point& card_mm) {
  for (const Fiducial& f : Fiducials()) {
    const Point d = card_mm - f.centre;
    const double r = d.norm();
    if (r > kRingOuterMm) continue;
    if (r < kDotMm) return true;
    if (r < kRingInnerMm) return false;
    const double turn = std::atan2(d.y(), d.x()) / (2 * std::numbers::pi);
    const int sector = static_cast<int>(std::floor((turn - std::floor(turn)) * kSectors));
    return (f.code >> (sector % kSectors)) & 1;
  }
  return false;
}

}  // namespace debossier::card
