#include "compare/category_rates.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "compare/budget.h"
#include "compare/statistics.h"
#include "compare/tell.h"
#include "outline/letter_class.h"

namespace debossier::compare {

namespace {

constexpr std::array<double, kSizeCells - 1> kSizesPx = {20, 32, 55, 90};
constexpr std::array<double, kBlurCells - 1> kBlurs = {0.04, 0.08};

constexpr CategoryRate kRates[] = {
#include "compare/category_rates.inc"
};

template <std::size_t N>
int CellOf(const std::array<double, N>& bounds, double value) {
  return static_cast<int>(std::upper_bound(bounds.begin(), bounds.end(), value) - bounds.begin());
}

/// Counts of a cell over all runs.
CategoryRate CountsOf(Category category, int size_cell, int blur_cell) {
  CategoryRate sum{category, size_cell, blur_cell, 0, 0, 0, 0, 0};
  for (const CategoryRate& r : CategoryRates()) {
    if (r.category != category || r.size_cell != size_cell || r.blur_cell != blur_cell) continue;
    sum.genuine += r.genuine;
    sum.said_of_genuine += r.said_of_genuine;
    sum.departing += r.departing;
    sum.flagged += r.flagged;
    sum.named += r.named;
  }
  return sum;
}

/// The counts of the nearest cell with at least `fewest` of `number`: smaller sizes first, then
/// larger ones, then more blurred; nothing where there is none.
std::optional<CategoryRate> NearestCounts(Category category, double size_px, double blur,
                                          int CategoryRate::*number, int fewest) {
  const int size = SizeCell(size_px);
  for (int b = BlurCell(blur); b < kBlurCells; ++b) {
    for (int k = size; k >= 0; --k) {
      const CategoryRate counts = CountsOf(category, k, b);
      if (counts.*number >= fewest) return counts;
    }
    for (int k = size + 1; k < kSizeCells; ++k) {
      const CategoryRate counts = CountsOf(category, k, b);
      if (counts.*number >= fewest) return counts;
    }
  }
  return std::nullopt;
}

/// As it would be told: "another letter in "PARIS NOUVAL"".
std::string InWords(const CategoryTrial& trial, const outline::Lettering& reference) {
  std::string line;
  for (const outline::Line& l : reference.lines) {
    if (l.id == trial.subject) line = "\"" + l.text + "\"";
  }
  switch (trial.category) {
    case Category::kLetterForm:
      return "another letter in " + line;
    case Category::kLineForm:
      return "other lettering for " + line;
    case Category::kCase:
      return "another case of " + line;
    case Category::kMarkForm:
      return "another mark";
    case Category::kMarkAbsent:
      return "a missing mark";
    case Category::kFrameAbsent:
      return "a missing frame";
    case Category::kFrameAdded:
      break;
  }
  return "a frame";
}

/// Every category and subject that the set makes possible, with the height concerned, px.
std::vector<CategoryTrial> Possible(const outline::Lettering& reference,
                                    const measure::Measurements& measured) {
  std::vector<CategoryTrial> trials;
  const double cap_px = measured.quality.cap_height_px;
  const auto add = [&](Category category, const std::string& subject, double height) {
    CategoryTrial t;
    t.category = category;
    t.subject = subject;
    t.size_px = height * cap_px;
    t.blur = t.size_px > 0 ? measured.quality.blur_px / t.size_px : 1;
    trials.push_back(std::move(t));
  };
  for (const outline::Line& line : reference.lines) {
    const double height = outline::NominalHeight(line);
    for (const Category c : {Category::kLetterForm, Category::kLineForm, Category::kCase}) {
      add(c, line.id, height > 0 ? height : 1);
    }
  }
  for (const outline::Element& e : reference.elements) {
    if (e.kind != outline::ElementKind::kMark) continue;
    for (const Category c : {Category::kMarkForm, Category::kMarkAbsent}) {
      add(c, e.id, outline::Bounds(e.outline).height());
    }
  }
  const bool framed = reference.frame.kind != outline::FrameKind::kNone;
  add(framed ? Category::kFrameAbsent : Category::kFrameAdded, "frame", 1);
  return trials;
}

}  // namespace

const char* Name(Category category) {
  switch (category) {
    case Category::kLetterForm:
      return "letter-form";
    case Category::kLineForm:
      return "line-form";
    case Category::kCase:
      return "case";
    case Category::kMarkForm:
      return "mark-form";
    case Category::kMarkAbsent:
      return "mark-absent";
    case Category::kFrameAbsent:
      return "frame-absent";
    case Category::kFrameAdded:
      break;
  }
  return "frame-added";
}

int SizeCell(double size_px) { return CellOf(kSizesPx, size_px); }
int BlurCell(double blur) { return CellOf(kBlurs, blur); }

std::string SizeCellInWords(int cell) {
  const auto at = [](int k) { return kSizesPx[static_cast<std::size_t>(k)]; };
  if (cell == 0) return fmt::format("below {:g} px", at(0));
  if (cell == kSizeCells - 1) return fmt::format("{:g} px and more", at(cell - 1));
  return fmt::format("{:g} to {:g} px", at(cell - 1), at(cell));
}

std::string BlurCellInWords(int cell) {
  const auto at = [](int k) { return 100 * kBlurs[static_cast<std::size_t>(k)]; };
  if (cell == 0) return fmt::format("blur below {:g} %", at(0));
  if (cell == kBlurCells - 1) return fmt::format("blur {:g} % and more", at(cell - 1));
  return fmt::format("blur {:g} to {:g} %", at(cell - 1), at(cell));
}

std::span<const CategoryRate> CategoryRates() { return kRates; }

CategoryTelling TellingOf(Category category, double size_px, double blur, double rate) {
  constexpr int kFewestGenuine = 100;
  constexpr int kFewestDeparting = 10;
  CategoryTelling telling;
  const auto genuine =
      NearestCounts(category, size_px, blur, &CategoryRate::genuine, kFewestGenuine);
  if (genuine) {
    telling.genuine = {genuine->said_of_genuine, genuine->genuine};
    const Interval said = WilsonInterval(genuine->said_of_genuine, genuine->genuine);
    telling.may_be_said = said.low <= rate * BudgetOf(Family::kForm).share;
  }
  const auto departing =
      NearestCounts(category, size_px, blur, &CategoryRate::departing, kFewestDeparting);
  if (departing) {
    telling.departing = {departing->flagged, departing->departing};
    telling.would_show = 2 * departing->flagged >= departing->departing;
  }
  return telling;
}

std::string SubjectOf(const Reason& reason) {
  return reason.elements.empty() ? "" : LineOf(reason.elements.front());
}

std::vector<CategoryTrial> JudgeCategories(const outline::Lettering& reference,
                                           const measure::Measurements& measured, double rate,
                                           std::vector<Reason>& reasons,
                                           std::vector<Reason>& untold) {
  std::vector<CategoryTrial> trials = Possible(reference, measured);
  for (CategoryTrial& t : trials) {
    const CategoryTelling telling = TellingOf(t.category, t.size_px, t.blur, rate);
    const bool mark_absent = t.category == Category::kMarkAbsent;
    t.may_be_said = telling.may_be_said && !mark_absent;
    t.would_show = mark_absent ? measured.mark.found : telling.would_show;
    t.genuine = telling.genuine;
    t.departing = telling.departing;
    const auto about = [&](const Reason& r) {
      return r.category == t.category && SubjectOf(r) == t.subject;
    };
    t.seen = std::any_of(untold.begin(), untold.end(), about);
    const auto first = std::find_if(reasons.begin(), reasons.end(), about);
    if (first == reasons.end()) continue;
    t.seen = true;
    if (t.may_be_said) {
      for (Reason& r : reasons) {
        if (about(r)) r.beyond = t.genuine;
      }
      continue;
    }
    Reason sign = *first;
    sign.text = fmt::format(
        "There are signs of {}, but simulated genuine photos of this size and sharpness show such "
        "signs too often to say so.",
        InWords(t, reference));
    untold.push_back(std::move(sign));
    std::erase_if(reasons, about);
  }
  return trials;
}

std::string HiddenCategories(const std::vector<CategoryTrial>& trials,
                             const outline::Lettering& reference) {
  std::string hidden;
  for (const CategoryTrial& t : trials) {
    const bool found_mark = t.category == Category::kMarkAbsent && t.would_show;
    if (t.seen || found_mark || (t.would_show && t.may_be_said)) continue;
    hidden += (hidden.empty() ? "" : ", ") + InWords(t, reference);
  }
  return hidden;
}

}  // namespace debossier::compare
