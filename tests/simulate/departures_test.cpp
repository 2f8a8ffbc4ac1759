#include "simulate/departures.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "simulate/plain_die.h"

namespace debossier::simulate {
namespace {

using outline::Bounds;
using outline::FrameKind;
using outline::Lettering;

Point BoxMin(const Lettering& die, int k) { return Bounds(die.elements[k].outline).min; }
Point BoxMax(const Lettering& die, int k) { return Bounds(die.elements[k].outline).max; }

/// A wordmark of four blocks with a mark, over an origin line of three smaller ones.
Lettering Blocks(double width = 0.6) {
  Lettering die;
  die.lines.push_back({"wordmark", "ABCD", 0, 1, 0.7});
  die.lines.push_back({"origin", "XYZ", -1, 0.5, 0.35});
  const auto add = [&die](const std::string& id, int line, double x, double y, double w, double h) {
    outline::Element element;
    element.id = id;
    element.line_idx = line;
    element.character.assign(1, 'o');
    element.outline.contours = {outline::Rectangle({Point(x, y), Point(x + w, y + h)})};
    die.elements.push_back(element);
  };
  for (int k = 0; k < 4; ++k) add(fmt::format("wordmark.{}", k), 0, 0.8 * k, 0, width, 1);
  for (int k = 0; k < 3; ++k) add(fmt::format("origin.{}", k), 1, 1 + 0.4 * k, -1, 0.3, 0.5);
  add("mark", 0, 3.2, 0.7, 0.3, 0.3);
  die.elements.back().kind = outline::ElementKind::kMark;
  return die;
}

/// Elements other than those listed have not moved at all.
void ExpectOthersUnchanged(const Lettering& before, const Lettering& after,
                           const std::vector<int>& changed) {
  ASSERT_EQ(before.elements.size(), after.elements.size());
  for (int k = 0; k < static_cast<int>(before.elements.size()); ++k) {
    if (std::find(changed.begin(), changed.end(), k) != changed.end()) continue;
    EXPECT_EQ(BoxMin(before, k), BoxMin(after, k)) << before.elements[k].id;
    EXPECT_EQ(BoxMax(before, k), BoxMax(after, k)) << before.elements[k].id;
  }
}

TEST(Departures, MarkGapMovesOnlyTheMark) {
  const Lettering before = Blocks();
  const Lettering after = WithMarkGap(before, 0.05);
  EXPECT_NEAR(BoxMin(after, 7).x() - BoxMin(before, 7).x(), 0.05, 1e-12);
  EXPECT_EQ(BoxMin(after, 7).y(), BoxMin(before, 7).y());
  ExpectOthersUnchanged(before, after, {7});
}

TEST(Departures, MarkSizeKeepsItsLowerLeftCorner) {
  const Lettering before = Blocks();
  const Lettering after = WithMarkSize(before, 0.1);
  EXPECT_NEAR((BoxMin(after, 7) - BoxMin(before, 7)).norm(), 0, 1e-12);
  EXPECT_NEAR(BoxMax(after, 7).y() - BoxMin(after, 7).y(), 0.33, 1e-12);
  ExpectOthersUnchanged(before, after, {7});
}

TEST(Departures, PairGapMovesAllThatFollowsOnTheLine) {
  const Lettering before = Blocks();
  const auto after = WithPairGap(before, "wordmark.1", 0.03);
  ASSERT_TRUE(after);
  for (const int k : {2, 3, 7}) {
    EXPECT_NEAR(BoxMin(*after, k).x() - BoxMin(before, k).x(), 0.03, 1e-12);
  }
  ExpectOthersUnchanged(before, *after, {2, 3, 7});
  const auto origin = WithPairGap(before, "origin.0", 0.03);
  ASSERT_TRUE(origin);
  ExpectOthersUnchanged(before, *origin, {5, 6});
  EXPECT_FALSE(WithPairGap(before, "origin.9", 0.03));
}

TEST(Departures, TrackingWidensEachGapAlike) {
  const Lettering before = Blocks();
  const auto after = WithTracking(before, "wordmark", 0.01);
  ASSERT_TRUE(after);
  for (int k = 0; k < 4; ++k) {
    EXPECT_NEAR(BoxMin(*after, k).x() - BoxMin(before, k).x(), 0.01 * k, 1e-12);
  }
  // The mark goes with the last letter.
  EXPECT_NEAR(BoxMin(*after, 7).x() - BoxMin(before, 7).x(), 0.03, 1e-12);
  ExpectOthersUnchanged(before, *after, {1, 2, 3, 7});
}

TEST(Departures, SizesScaleAboutTheMiddleOfTheBaseline) {
  const Lettering before = Blocks();
  const auto letter = WithLetterSize(before, "wordmark.2", 0.04);
  ASSERT_TRUE(letter);
  EXPECT_NEAR(BoxMin(*letter, 2).y(), 0, 1e-12);
  EXPECT_NEAR(BoxMax(*letter, 2).y(), 1.04, 1e-12);
  EXPECT_NEAR(BoxMin(*letter, 2).x() + BoxMax(*letter, 2).x(),
              BoxMin(before, 2).x() + BoxMax(before, 2).x(), 1e-12);
  ExpectOthersUnchanged(before, *letter, {2});
  const auto line = WithLineSize(before, "origin", 0.1);
  ASSERT_TRUE(line);
  EXPECT_NEAR(line->lines[1].cap_height, 0.55, 1e-12);
  EXPECT_NEAR(BoxMax(*line, 4).y(), -1 + 0.55, 1e-12);
  EXPECT_NEAR(BoxMin(*line, 4).x() + BoxMax(*line, 6).x(),
              BoxMin(before, 4).x() + BoxMax(before, 6).x(), 1e-12);
  ExpectOthersUnchanged(before, *line, {4, 5, 6});
}

TEST(Departures, StrokeWeightMovesEdgesOutward) {
  const Lettering before = Blocks();
  const auto after = WithStrokeWeight(before, "wordmark.1", 0.02);
  ASSERT_TRUE(after);
  EXPECT_NEAR(BoxMin(*after, 1).x(), BoxMin(before, 1).x() - 0.02, 1e-9);
  EXPECT_NEAR(BoxMax(*after, 1).y(), 1.02, 1e-9);
  ExpectOthersUnchanged(before, *after, {1});
  // A ring grows outward and its counter shrinks.
  Lettering ring = DieOf({outline::Ellipse({0, 0}, 0.5, 0.5)});
  ring.elements[0].outline.contours.push_back(
      outline::Reversed(outline::Ellipse({0, 0}, 0.3, 0.3)));
  const auto thick = WithStrokeWeight(ring, "", 0.02);
  ASSERT_TRUE(thick);
  EXPECT_NEAR(Bounds(thick->elements[0].outline.contours[0]).max.x(), 0.52, 1e-3);
  EXPECT_NEAR(Bounds(thick->elements[0].outline.contours[1]).max.x(), 0.28, 1e-3);
}

TEST(Departures, LetterOfAnotherFaceTakesTheOldPlace) {
  const Lettering before = Blocks();
  const auto after = WithLetterOf(before, Blocks(0.5), "wordmark.1");
  ASSERT_TRUE(after);
  EXPECT_NEAR(BoxMax(*after, 1).x() - BoxMin(*after, 1).x(), 0.5, 1e-12);
  EXPECT_NEAR(BoxMin(*after, 1).x() + BoxMax(*after, 1).x(),
              BoxMin(before, 1).x() + BoxMax(before, 1).x(), 1e-12);
  ExpectOthersUnchanged(before, *after, {1});
}

TEST(Departures, FrameKeepsItsClearance) {
  const Lettering before = Blocks();
  const Lettering rectangle = WithFrame(before, FrameKind::kRectangle, 1, 0.25, 0.04);
  EXPECT_NEAR(rectangle.frame.radius.x(), 0.5 * 1.1 + 0.25, 1e-12);
  EXPECT_NEAR(rectangle.frame.radius.y(), 0.5 * 0.5 + 0.25, 1e-12);
  const Lettering ellipse = WithFrame(before, FrameKind::kEllipse, 1, 0.3, 0.04);
  const Point corner = Point(0.55, 0.25).cwiseQuotient(ellipse.frame.radius);
  EXPECT_LT(corner.norm(), 1) << "the text's corners lie inside";
  EXPECT_EQ(WithFrame(ellipse, FrameKind::kNone, -1, 0, 0).frame.kind, FrameKind::kNone);
}

TEST(Departures, EachKindCanBeApplied) {
  const Lettering die = Blocks();
  DepartureSources sources;
  std::vector<std::string> asked;
  sources.same_face = [&asked](const std::vector<std::string>& texts) -> Result<Lettering> {
    asked = texts;
    return Blocks();
  };
  sources.other_face = [](const std::vector<std::string>&) -> Result<Lettering> {
    return Blocks(0.5);
  };
  sources.other_mark = sources.other_face;
  sources.other_text = "UVW";
  for (const DepartureKind& kind : DepartureKinds()) {
    Departure departure{kind.name, "", kind.usual};
    EXPECT_TRUE(ApplyDeparture(die, departure, sources)) << kind.name;
  }
  Departure small{"origin-small", "", 0};
  ASSERT_TRUE(ApplyDeparture(die, small, sources));
  EXPECT_EQ(small.element, "origin");
  EXPECT_EQ(asked, (std::vector<std::string>{"ABCD", "xyz"}));
  Departure unknown{"smell", "", 0};
  EXPECT_FALSE(ApplyDeparture(die, unknown, sources));
  Departure face{"face", "", 0};
  EXPECT_FALSE(ApplyDeparture(die, face, {}));
  Lettering unmarked = die;
  unmarked.elements.pop_back();
  Departure gap{"mark-gap", "", 0.1};
  EXPECT_FALSE(ApplyDeparture(unmarked, gap, sources));
}

}  // namespace
}  // namespace debossier::simulate
