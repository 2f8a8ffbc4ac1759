// The questioned lettering and a verified one, straight on and at one scale: the pictures that a
// reader compares by eye, and what is drawn over them.
//
// Frames: stamp (cap heights, y up) to page points (y down).
// Not for: measuring; every value that is written beside a picture stands in the comparison.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "report/pages.h"

namespace debossier::report {

/// Whose lettering a picture shows.
enum class Whose { kQuestioned, kVerified };

/// What both pictures show: all lettering, its frame and some ground; none where nothing was found.
std::optional<Box> ExhibitBox(const Material& material);

/// Both items' lettering with nothing drawn over it, one above the other, each under its caption;
/// `picture` is the height of one. Returns the height used.
double DrawPlainPair(Canvas& canvas, const Material& material, const Point& corner, double width,
                     double picture);
double PlainPairHeight(double picture);

/// Both with outlines and callouts, beside each other or one above the other, and a legend.
double DrawMarkedPair(Canvas& canvas, const Material& material, const Point& corner, double width,
                      double picture, bool beside, int callouts);
double MarkedPairHeight(double picture, bool beside);

/// Shows `box` of the stamp in the panel, as large as fits.
View ViewOfExhibit(const Material& material, Whose whose, const Box& box, const Rect& panel);

/// The photograph; where no verified item's photo is kept, the mean outlines of the set, filled.
void DrawExhibit(Canvas& canvas, const Material& material, Whose whose, const View& view);

/// Outlines of the reference over it, and what departs: as found on the questioned item, as it
/// should be on the verified one. Lines that are other letters than the set's stay as they are.
void DrawExhibitOutlines(Canvas& canvas, const Material& material, Whose whose, const View& view);

/// Numbers of the first `count` reasons above the places they are about.
void DrawCallouts(Canvas& canvas, const Material& material, Whose whose, const View& view,
                  int count);

/// "This item: intake-17.jpg", "Verified item item3 of the set".
std::string ExhibitCaption(const Material& material, Whose whose);

/// One departure as two cut-outs at one scale, with the length that departs drawn in.
class Figure {
 public:
  Figure(const Material& material, const compare::Reason& reason);

  /// Nothing can be shown of it: its elements are unknown, or nothing was found.
  bool empty() const { return box_.empty(); }
  void Draw(Canvas& canvas, const Rect& area) const;
  /// The departure in numbers: "this item 0.412 ± 0.008, verified 0.371 to 0.389 cap heights" where
  /// it is of a measured length, then what NumbersOf() says of the reason.
  std::vector<std::string> Numbers() const;

 private:
  const Material& material_;
  const compare::Reason& reason_;
  std::vector<std::string> shown_;
  Box box_;
  bool stacked_ = false;  ///< A whole line: the cut-outs stand one above the other.
};

/// Ids of what a reason is about, as ElementsShown().
std::vector<std::string> ShownBy(const Material& material, const compare::Reason& reason);

}  // namespace debossier::report
