// The outer form of a mark: where it stands and how large it is at any resolution.
//
// The inside of a registered sign fills with foil or blurs away long before the sign itself does,
// so that its place and size are read from what bounds it. Frame: the outline's own (stamp).
// Not for: the mark's kind, which its inside tells.
#pragma once

#include "outline/lettering.h"

namespace debossier::fit {

/// What an element's fit follows: the outline of a letter as it is; of a circled sign (®, ©, ℗) the
/// ellipse of its box, whatever was traced inside; of another mark its outermost contours.
outline::Outline OuterForm(const outline::Element& element);

/// How far from its usual place a mark is looked for, cap heights.
struct MarkReach {
  static constexpr double kLeft = 0.5;
  static constexpr double kRight = 1.5;
  static constexpr double kBeside = 1.5;       ///< Above and below.
  static constexpr double kLeastScale = 0.75;  ///< Of the reference's size.
  static constexpr double kMostScale = 1.35;
  static constexpr int kScales = 5;
  static constexpr double kPull = 0.03;  ///< See FindOptions::pull.
};

/// The box about the mark's in which it is looked for; empty where the lettering has no mark.
outline::Box BoxOfReach(const outline::Lettering& lettering);

}  // namespace debossier::fit
