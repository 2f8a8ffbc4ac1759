#include <fmt/format.h>

#include "compare/tell.h"
#include "measure/features.h"

namespace debossier::compare {

namespace {

const char* InWords(measure::LineCase line_case) {
  switch (line_case) {
    case measure::LineCase::kCapitals:
      return "capitals";
    case measure::LineCase::kTitle:
      return "capital initials and small letters";
    case measure::LineCase::kSmall:
      return "small letters";
    case measure::LineCase::kSmallCapitals:
      return "small capitals";
    case measure::LineCase::kMixed:
      return "capital initials and small letters, with small words between";
    case measure::LineCase::kCannotTell:
      break;
  }
  return "letters whose case is not clear";
}

const char* InWords(outline::FrameKind kind) {
  switch (kind) {
    case outline::FrameKind::kEllipse:
      return "an oval";
    case outline::FrameKind::kRectangle:
      return "a rectangle";
    case outline::FrameKind::kNone:
      break;
  }
  return "no frame";
}

/// How far a frame that is there stands from the letters.
std::string ClearanceOf(const measure::FrameMeasurement& frame) {
  if (frame.kind == outline::FrameKind::kNone) return "";
  return fmt::format(" ({:.0f} % of cap height from its letters, U = {:.1f} %)",
                     100 * frame.clearance.value, 200 * frame.clearance.u);
}

Reason CategoryReason(std::optional<Category> category, std::string measure,
                      std::vector<std::string> elements, std::string text) {
  Reason r;
  r.category = category;
  r.measure = std::move(measure);
  r.elements = std::move(elements);
  r.unit = "category";
  r.text = std::move(text);
  return r;
}

/// Share of the element's own area that carries foil in the photo, wherever its strokes run.
double FoilShare(const fit::PlaceReport& placed, const outline::Outline& outline) {
  const outline::Box box = outline::Bounds(outline);
  const fit::EdgeReader reader(placed.coverage.alpha, placed.map_from_stamp);
  double foil = 0;
  const double step = 0.03;
  for (double y = box.min.y(); y < box.max.y(); y += step) {
    for (double x = box.min.x(); x < box.max.x(); x += step) {
      foil += reader.CoverageAt({x, y}, 0) > 0.5 ? step * step : 0;
    }
  }
  return foil / std::max(1e-6, outline::SignedArea(outline));
}

/// One sentence for all of `which`, under "mark" where the mark is among them.
void SayUntold(const refset::RefSet& set, const std::vector<std::size_t>& which,
               const std::string& why, CategoryOutcome& out) {
  if (which.empty()) return;
  const auto names = measure::NamesOf(set.lettering);
  std::vector<std::string> ids;
  std::string shown;
  bool mark = false;
  for (const std::size_t i : which) {
    const auto& element = set.lettering.elements[i];
    const bool is_mark = element.kind == outline::ElementKind::kMark;
    ids.push_back(element.id);
    shown += (shown.empty() ? "" : ", ") +
             (is_mark ? "the mark " + element.character : names.at(element.id));
    mark = mark || is_mark;
  }
  out.untold.push_back(
      CategoryReason({}, mark ? "mark" : "letter", ids, fmt::format("{}: {}.", why, shown)));
}

/// `other` and `letters`: the elements by line that other lettering stands in the place of, and how
/// many there are.
void SayOtherLetters(const refset::RefSet& set, const std::vector<std::vector<std::size_t>>& other,
                     const std::vector<int>& letters, CategoryOutcome& out) {
  const auto& elements = set.lettering.elements;
  for (std::size_t l = 0; l < other.size(); ++l) {
    const std::string& text = set.lettering.lines[l].text;
    if (other[l].empty()) continue;
    std::vector<std::string> ids;
    std::string shown;
    for (const std::size_t i : other[l]) {
      ids.push_back(elements[i].id);
      shown += (shown.empty() ? "" : ", ") + elements[i].character;
    }
    if (3 * ids.size() >= static_cast<std::size_t>(letters[l]) && ids.size() > 1) {
      out.departures.push_back(CategoryReason(
          Category::kLineForm, "text", ids,
          fmt::format("The line \"{}\" is not what is stamped: other lettering stands "
                      "in the place of {}.",
                      text, shown)));
    } else {
      out.departures.push_back(
          CategoryReason(Category::kLetterForm, "letterform", ids,
                         fmt::format("Another letter or letterform stands in the place of {} in "
                                     "\"{}\".",
                                     shown, text)));
    }
  }
}

void CompareLetters(const refset::RefSet& set, const measure::Measurements& measured,
                    const fit::PlaceReport& placed, CategoryOutcome& out) {
  constexpr double kFoilOfAnother = 0.8;  // of the letter's area
  const auto& elements = set.lettering.elements;
  std::vector<int> letters(set.lettering.lines.size(), 0);
  std::vector<std::vector<std::size_t>> other(set.lettering.lines.size());
  std::vector<std::size_t> bare;
  std::vector<std::size_t> cut;
  std::vector<std::size_t> in_place;
  for (std::size_t i = 0; i < elements.size(); ++i) {
    ++letters[elements[i].line_idx];
    if (measured.elements[i].found) continue;
    if (measured.elements[i].in_place) {
      in_place.push_back(i);
      continue;
    }
    if (measured.elements[i].cut) {
      cut.push_back(i);
      continue;
    }
    // Foil of about the right amount in its place that is not the letter's: something else is
    // stamped there. A mark's counters fill with foil, so that this says nothing of it.
    const bool letter = elements[i].kind == outline::ElementKind::kLetter;
    if (!letter && measured.mark.ground_seen) {
      // Never a departure: foil wears off a mark as a whole and leaves the same bare ground.
      out.untold.push_back(CategoryReason(
          Category::kMarkAbsent, "mark", {elements[i].id},
          fmt::format("No foil is seen in the place of the mark {} or about it: it is missing, or "
                      "its foil has worn off. Look for its impression in the leather.",
                      elements[i].character)));
      continue;
    }
    if (letter && FoilShare(placed, elements[i].outline) > kFoilOfAnother) {
      other[elements[i].line_idx].push_back(i);
    } else {
      bare.push_back(i);
    }
  }
  SayOtherLetters(set, other, letters, out);
  SayUntold(set, cut, "Outside the photo or the crop, wholly or in part, and not measured", out);
  SayUntold(set, in_place, "Seen in place, but too worn or blurred to measure", out);
  SayUntold(set, bare, "Could not be read, so nothing is said of it", out);
}

}  // namespace

CategoryOutcome CompareCategories(const refset::RefSet& set, const measure::Measurements& measured,
                                  const fit::PlaceReport& placed) {
  CategoryOutcome out;
  for (std::size_t l = 0; l < set.lettering.lines.size(); ++l) {
    const auto& line = set.lettering.lines[l];
    const auto expected = outline::CaseOfText(line.text);
    const auto seen = measured.lines[l].line_case;
    if (seen == measure::LineCase::kCannotTell || expected == measure::LineCase::kCannotTell) {
      continue;
    }
    if (seen != expected) {
      out.departures.push_back(CategoryReason(
          Category::kCase, "case", {line.id},
          fmt::format("The line \"{}\" is set in {}; on the verified items it is set in {}.",
                      line.text, InWords(seen), InWords(expected))));
    }
  }
  const auto frame = set.lettering.frame.kind;
  if (!measured.frame.decided) {
    out.untold.push_back(
        CategoryReason({}, "frame", {"frame"},
                       frame == outline::FrameKind::kNone
                           ? "Whether a frame is around the lettering is not clear: the photo "
                             "is too small."
                           : "Whether the frame is there is not clear: too little of its rule "
                             "can be seen."));
  } else if (measured.frame.kind != frame) {
    out.departures.push_back(CategoryReason(
        frame == outline::FrameKind::kNone ? Category::kFrameAdded : Category::kFrameAbsent,
        "frame", {"frame"},
        fmt::format("The photo shows {} around the lettering{}; the verified items show {}.",
                    InWords(measured.frame.kind), ClearanceOf(measured.frame), InWords(frame))));
  }
  const auto& mark = measured.mark;
  if (!mark.seen.empty() && mark.seen != mark.kind) {
    out.untold.push_back(CategoryReason(
        Category::kMarkForm, "mark", {"mark"},
        fmt::format("By its inside the sign looks like {}; on the verified items it is {}. Look at "
                    "it: foil that fills a sign can make one look like the other.",
                    mark.seen, mark.kind)));
  }
  // A line that was read in another case explains letters that do not fit.
  bool case_departs = false;
  for (const auto& r : out.departures) case_departs |= r.measure == "case";
  if (!case_departs) CompareLetters(set, measured, placed, out);
  return out;
}

}  // namespace debossier::compare
