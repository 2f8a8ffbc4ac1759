#include <array>

#include "simulate/departures.h"

namespace debossier::simulate {
namespace {

using outline::FrameKind;
using outline::Lettering;

constexpr std::array kKinds{
    DepartureKind{"mark-gap", "cap heights", 0.03, "the mark stands further from the last letter"},
    DepartureKind{"mark-size", "share", 0.05, "the mark is larger"},
    DepartureKind{"pair-gap", "cap heights", 0.03, "the gap after one letter is wider"},
    DepartureKind{"mark-none", "none", 0, "the mark is missing"},
    DepartureKind{"mark-other", "none", 0, "another mark stands in its place"},
    DepartureKind{"tracking", "cap heights", 0.01, "every gap of a line is wider"},
    DepartureKind{"letter-size", "share", 0.03, "one letter is larger"},
    DepartureKind{"line-size", "share", 0.03, "the origin line is larger"},
    DepartureKind{"stroke-weight", "cap heights", 0.02,
                  "the strokes of one letter, or of all, are "
                  "wider by twice this"},
    DepartureKind{"letter-face", "none", 0, "one letter comes from another face"},
    DepartureKind{"face", "none", 0, "everything comes from another face"},
    DepartureKind{"origin-title", "none", 0, "the origin line has capitals and small letters"},
    DepartureKind{"origin-small", "none", 0, "the origin line is in small letters"},
    DepartureKind{"origin-mixed", "none", 0,
                  "the origin line has capitals and small letters, and words such as 'in' small"},
    DepartureKind{"origin-capitals", "none", 0, "the origin line is in capitals"},
    DepartureKind{"wordmark-title", "none", 0, "the wordmark has capitals and small letters"},
    DepartureKind{"text", "none", 0, "a line has another text"},
    DepartureKind{"frame-ellipse", "cap heights", 0.35,
                  "an ellipse round the origin line, with "
                  "this clearance"},
    DepartureKind{"frame-rectangle", "cap heights", 0.25,
                  "a rectangle round the origin line, with "
                  "this clearance"},
    DepartureKind{"frame-none", "none", 0, "the frame is missing"},
};

std::vector<std::string> TextsOf(const Lettering& die) {
  std::vector<std::string> texts;
  for (const outline::Line& line : die.lines) texts.push_back(line.text);
  return texts;
}

/// The element a departure concerns where none is named.
std::string UsualElement(const Lettering& die, const std::string& name) {
  if (name.starts_with("mark-")) return "mark";
  if (name == "pair-gap" || name == "letter-size" || name == "letter-face") {
    const std::size_t second = die.elements.size() > 1 ? 1 : 0;
    return die.elements.empty() ? "" : die.elements[second].id;
  }
  if (name == "tracking" || name == "wordmark-title") {
    return die.lines.empty() ? "" : die.lines.front().id;
  }
  if (name == "stroke-weight" || name == "face" || name == "frame-none") return "";
  return die.lines.empty() ? "" : die.lines.back().id;
}

bool HasMark(const Lettering& die) {
  return !die.elements.empty() && die.elements.back().kind == outline::ElementKind::kMark;
}

Result<Lettering> OtherFace(const Lettering& die, const DepartureSources& sources) {
  if (!sources.other_face) {
    return Refuse(ErrorCode::kUsage, "simulate", "", "there is no other face to take letters from",
                  "give --other-font");
  }
  return sources.other_face(TextsOf(die));
}

Result<Lettering> OtherMark(const Lettering& die, const DepartureSources& sources) {
  if (!sources.other_mark) {
    return Refuse(ErrorCode::kUsage, "simulate", "", "there is no other mark to take",
                  "the accuracy program has one");
  }
  return sources.other_mark(TextsOf(die));
}

std::string TextOf(const Lettering& die, const std::string& line_id) {
  for (const outline::Line& line : die.lines) {
    if (line.id == line_id) return line.text;
  }
  return "";
}

Result<Lettering> Framed(const Lettering& die, FrameKind kind, const Departure& departure) {
  for (std::size_t k = 0; k < die.lines.size(); ++k) {
    if (die.lines[k].id != departure.element) continue;
    const double weight = die.frame.line_weight > 0 ? die.frame.line_weight : 0.05;
    return WithFrame(die, kind, static_cast<int>(k), departure.amount, weight);
  }
  return Refuse(ErrorCode::kUsage, "simulate", departure.element, "the die has no such line",
                "name a line, for example origin");
}

}  // namespace

std::span<const DepartureKind> DepartureKinds() { return kKinds; }

std::optional<outline::LineCase> CaseAsked(const std::string& departure) {
  if (departure == "origin-title" || departure == "wordmark-title")
    return outline::LineCase::kTitle;
  if (departure == "origin-small") return outline::LineCase::kSmall;
  if (departure == "origin-mixed") return outline::LineCase::kMixed;
  if (departure == "origin-capitals") return outline::LineCase::kCapitals;
  return {};
}

Result<Lettering> ApplyDeparture(const Lettering& die, Departure& departure,
                                 const DepartureSources& sources) {
  const std::string& name = departure.name;
  if (departure.element.empty()) departure.element = UsualElement(die, name);
  const std::string& id = departure.element;
  if (name.starts_with("mark-") && !HasMark(die)) {
    return Refuse(ErrorCode::kUsage, "simulate", name, "the die has no mark", "give --mark");
  }
  if (name == "mark-gap") return WithMarkGap(die, departure.amount);
  if (name == "mark-size") return WithMarkSize(die, departure.amount);
  if (name == "mark-none") {
    Lettering changed = die;
    changed.elements.pop_back();
    return changed;
  }
  if (name == "mark-other") {
    const Result<Lettering> other = OtherMark(die, sources);
    if (!other) return PassOn(other);
    return WithLetterOf(die, *other, id);
  }
  if (name == "pair-gap") return WithPairGap(die, id, departure.amount);
  if (name == "tracking") return WithTracking(die, id, departure.amount);
  if (name == "letter-size") return WithLetterSize(die, id, departure.amount);
  if (name == "line-size") return WithLineSize(die, id, departure.amount);
  if (name == "stroke-weight") return WithStrokeWeight(die, id, departure.amount);
  if (name == "face") return OtherFace(die, sources);
  if (name == "letter-face") {
    const Result<Lettering> other = OtherFace(die, sources);
    if (!other) return PassOn(other);
    return WithLetterOf(die, *other, id);
  }
  if (const auto wanted = CaseAsked(name)) {
    return WithText(die, id, outline::InCase(TextOf(die, id), *wanted), sources.same_face);
  }
  if (name == "text") return WithText(die, id, sources.other_text, sources.same_face);
  if (name == "frame-ellipse") return Framed(die, FrameKind::kEllipse, departure);
  if (name == "frame-rectangle") return Framed(die, FrameKind::kRectangle, departure);
  if (name == "frame-none") return WithFrame(die, FrameKind::kNone, -1, 0, 0);
  return Refuse(ErrorCode::kUsage, "simulate", name, "there is no such departure",
                "debossier-simulate --departures lists them");
}

}  // namespace debossier::simulate
