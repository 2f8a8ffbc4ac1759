#include "results/text_summary.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/unicode.h"
#include "compare/category_rates.h"
#include "results/words.h"

namespace debossier::report {

namespace {

/// The sentence that comes nearest to being said and is not: "A-V, gap by +0.8 % of cap height,
/// 0.62 of what would be said".
std::string FurthestByChance(const compare::Comparison& c) {
  const compare::TriedSentence* furthest = nullptr;
  const auto strength = [](const compare::TriedSentence& s) { return std::abs(s.z) / s.level; };
  for (const auto& s : c.sentences) {
    if (s.departs || !(strength(s) < 1)) continue;
    if (furthest == nullptr || strength(s) > strength(*furthest)) furthest = &s;
  }
  if (furthest == nullptr) return "";
  return fmt::format("{}, {} by {} %{}, {} of what would be said", furthest->label,
                     furthest->measure, Fixed(100 * furthest->amplitude, 1, true),
                     furthest->unit == "cap heights" ? " of cap height" : "",
                     Fixed(strength(*furthest), 2));
}

}  // namespace

std::string TextSummary(const compare::Comparison& c) {
  constexpr std::size_t kMostReasons = 5;
  std::string text;
  const auto line = [&](const std::string& words) { text += OneLine(words) + "\n"; };
  const std::string maker = MakerInWords(c);
  line(fmt::format("{}: {}", c.photo.file, Headline(c.finding)));
  line("  " + c.summary);
  for (std::size_t i = 0; i < std::min(kMostReasons, c.reasons.size()); ++i) {
    line(fmt::format("  {}. {}", i + 1, c.reasons[i].text));
    for (const std::string& numbers : NumbersOf(c.reasons[i])) line("     " + numbers);
  }
  if (c.reasons.size() > kMostReasons) {
    line(fmt::format("  and {} more in the JSON result and the report",
                     c.reasons.size() - kMostReasons));
  }
  for (const std::string& advice : AllAdvice(c)) line("  Advice: " + advice);
  line(fmt::format("  Compared with {}{}{}, {}", maker, maker.empty() ? "" : ": ", SetInWords(c),
                   ItemsInWords(c)));
  const auto clear = std::count_if(c.sentences.begin(), c.sentences.end(),
                                   [](const auto& s) { return s.decidable; });
  const std::size_t departing =
      c.finding == compare::Finding::kDeparts ? c.reasons.size() : std::size_t{0};
  line(
      fmt::format("  {} possible departures tried, {} of them as small as the set asks; {} said; "
                  "score {} (above 1 departs)",
                  c.sentences.size() + c.categories.size(), clear, departing, Fixed(c.score, 2)));
  const std::string strays = FurthestByChance(c);
  if (!strays.empty()) line("  Strays as genuine items do, not said: " + strays);
  if (c.finding == compare::Finding::kNoDepartureFound) {
    for (const MeasureLimit& limit : LargestLimits(c)) {
      line(fmt::format("  would have shown: {} off by {}", limit.measure, LimitInWords(limit)));
    }
    const std::string hidden = compare::HiddenCategories(c.categories, c.reference);
    if (!hidden.empty()) line("  would often not show: " + hidden);
  }
  const measure::Quality& q = c.measured.quality;
  const std::string tilt = std::isfinite(q.tilt_deg) ? Fixed(q.tilt_deg, 1) + "°"
                                                     : "not known (the scan may be squeezed)";
  line(fmt::format("  cap height {} px, blur {} px, tilt {}, foil coverage {} %",
                   Fixed(q.cap_height_px, 1), Fixed(q.blur_px, 2), tilt,
                   Fixed(100 * q.coverage, 0)));
  if (c.scale) {
    line("  scale: " + ScaleInWords(*c.scale));
    for (const std::string& note : ScaleNotes(*c.scale)) line("    " + note);
  }
  if (c.refset_simulated) line("  Demonstration: the maker is invented, the photos are simulated.");
  return text;
}

}  // namespace debossier::report
