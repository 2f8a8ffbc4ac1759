#include "results/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "compare/statistics.h"

namespace debossier::report {
namespace {

using compare::Comparison;
using compare::Finding;

constexpr const char* kDash = "–";

// True where the text has a Hebrew, Arabic, Syriac or related letter (U+0590 to U+08FF).
bool HasRightToLeft(const std::string& text) {
  for (const std::string& character : outline::Characters(text)) {
    const auto lead = static_cast<unsigned char>(character[0]);
    const auto next = static_cast<unsigned char>(character.size() > 1 ? character[1] : 0);
    if ((lead >= 0xD7 && lead <= 0xDF) || (lead == 0xD6 && next >= 0x90)) return true;
    if (lead == 0xE0 && next <= 0xA3) return true;
  }
  return false;
}

int DecimalsFor(const std::string& unit) { return unit == "degrees" ? 2 : 4; }

}  // namespace

const char* Headline(Finding finding) {
  switch (finding) {
    case Finding::kDeparts:
      return "Departs";
    case Finding::kNoDepartureFound:
      return "No departure found";
    case Finding::kCannotTell:
      return "Cannot tell";
  }
  DEBOSSIER_ASSERT(!"a finding outside its enumeration");
}

const char* Verdict(const compare::Feature& feature) { return feature.departs ? "departs" : ""; }

std::string Fixed(double value, int decimals, bool with_sign) {
  if (!std::isfinite(value)) return kDash;
  std::string text = std::abs(value) < 1e7 ? fmt::format("{:.{}f}", value, decimals)
                                           : fmt::format("{:.3e}", value);
  // A value that rounds to nothing has no sign.
  if (text.find_first_not_of("-0.") == std::string::npos) {
    if (text.front() == '-') text.erase(0, 1);
    return text;
  }
  return with_sign && text.front() != '-' ? "+" + text : text;
}

std::string Value(double value, const std::string& unit, bool with_sign) {
  return Fixed(value, DecimalsFor(unit), with_sign);
}

std::string Probability(double p) {
  if (!std::isfinite(p)) return kDash;
  if (p < 0.0001) return "< 0.0001";
  return fmt::format("{:.{}f}", p, p < 0.01 ? 4 : 3);
}

std::string RangeInWords(const compare::Feature& f) { return RangeInWords(f, DecimalsFor(f.unit)); }

std::string RangeInWords(const compare::Feature& f, int decimals) {
  // A distance of two forms is never below 0.
  const double low = f.expected - 2 * f.spread;
  return fmt::format("{} to {}",
                     Fixed(f.measure == "letterform" ? std::max(0.0, low) : low, decimals),
                     Fixed(f.expected + 2 * f.spread, decimals));
}

std::string ItemsInWords(const Comparison& comparison) {
  if (comparison.refset_items <= 0) return "made from a font, without verified items";
  if (comparison.refset_items == 1) return "1 verified item";
  return fmt::format("{} verified items", comparison.refset_items);
}

std::string SetInWords(const Comparison& comparison) {
  return fmt::format("set {}, revision {}", comparison.refset_id, comparison.refset_revision);
}

std::string MakerInWords(const Comparison& comparison) {
  std::string words = comparison.refset_maker;
  // Keeps what follows in order after a label written from right to left (UAX 9, U+200E).
  if (HasRightToLeft(words)) words += "\u200E";
  if (!comparison.refset_period.empty()) {
    words += (words.empty() ? "" : ", ") + comparison.refset_period;
  }
  return words;
}

std::string OddsInWords(const std::optional<double>& p,
                        const std::optional<compare::MeasuredShare>& beyond) {
  if (p) {
    const std::string words = Probability(*p);
    return fmt::format("p {}{}", words.front() == '<' ? "" : "= ", words);
  }
  if (!beyond || beyond->photos == 0) return "no p";
  const double most = 100 * compare::WilsonInterval(beyond->beyond, beyond->photos).high;
  return fmt::format("{} of {} (< {:.1f} %)", beyond->beyond, beyond->photos, most);
}

std::vector<std::string> NumbersOf(const compare::Reason& reason) {
  if (reason.u == 0) {
    if (!reason.beyond) return {};
    // No interval: copies of one photo are not independent.
    return {
        fmt::format("of {} simulated photos of genuine items as sharp as this one (degraded "
                    "copies among them) {} showed it",
                    reason.beyond->photos, reason.beyond->beyond)};
  }
  const char* of = reason.unit == "cap heights" ? " of cap height" : "";
  std::vector<std::string> numbers = {fmt::format("off by {} ± {} %{} (k = 2)",
                                                  Fixed(100 * reason.value, 2, true),
                                                  Fixed(200 * reason.u, 2), of)};
  std::string odds = fmt::format("z {}", Fixed(reason.z, 1, true));
  if (reason.level > 0) odds += fmt::format(", said beyond {}", Fixed(reason.level, 1));
  if (reason.p) odds += fmt::format("; {} before correction", OddsInWords(reason.p, {}));
  numbers.push_back(std::move(odds));
  return numbers;
}

std::vector<MeasureLimit> LargestLimits(const Comparison& comparison) {
  std::vector<MeasureLimit> limits;
  for (const compare::TriedSentence& sentence : comparison.sentences) {
    if (!sentence.decidable || !std::isfinite(sentence.limit)) continue;
    const auto known = std::find_if(limits.begin(), limits.end(), [&](const MeasureLimit& limit) {
      return limit.measure == sentence.measure;
    });
    if (known == limits.end()) {
      limits.push_back({sentence.measure, sentence.unit, sentence.limit});
    } else {
      known->largest = std::max(known->largest, sentence.limit);
    }
  }
  return limits;
}

std::string LimitInWords(const MeasureLimit& limit) {
  if (limit.unit == "degrees") return Fixed(limit.largest, 1) + "°";
  const std::string percent = Fixed(100 * limit.largest, 1) + " %";
  return limit.unit == "cap heights" ? percent + " of the cap height" : percent;
}

std::vector<std::string> AllAdvice(const Comparison& comparison) {
  std::vector<std::string> all = comparison.advice;
  for (const std::string& advice : comparison.measured.quality.advice) {
    if (std::find(all.begin(), all.end(), advice) == all.end()) all.push_back(advice);
  }
  return all;
}

std::string ScaleInWords(const card::Scale& scale) {
  const Measured& mm = scale.mm_per_cap_height;
  const std::string length = fmt::format("1 cap height = {} mm (U = {} mm, k = 2)",
                                         Fixed(mm.value, 3), Fixed(2 * mm.u, 3));
  switch (scale.method) {
    case card::ScaleMethod::kNone:
      return "no millimetres";
    case card::ScaleMethod::kCard:
      return fmt::format("{}, from the scale card, {} of its {} marks seen", length,
                         scale.marks_seen, scale.marks_total);
    case card::ScaleMethod::kRectangle:
      return length + ", from four corners picked by hand";
    case card::ScaleMethod::kTwoPoints:
      return length + ", from two points picked by hand";
  }
  DEBOSSIER_ASSERT(!"a scale method outside its enumeration");
}

std::vector<std::string> ScaleNotes(const card::Scale& scale) {
  std::vector<std::string> notes;
  for (const Warning& w : scale.warnings) {
    std::string sentence = w.message;
    if (!sentence.empty() && sentence[0] >= 'a' && sentence[0] <= 'z') {
      sentence[0] = static_cast<char>(sentence[0] - 'a' + 'A');
    }
    notes.push_back(sentence + ".");
  }
  notes.insert(notes.end(), scale.limits.begin(), scale.limits.end());
  return notes;
}

}  // namespace debossier::report
