#include "compare/tell.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

namespace debossier::compare {

namespace {

bool IsLength(const Sentence& s) { return std::string_view(s.unit) == "cap heights"; }

/// Puts one set's names into sentences.
class Teller {
 public:
  Teller(const refset::RefSet& set, const std::optional<card::Scale>& scale)
      : set_(set), scale_(scale), names_(measure::NamesOf(set.lettering)) {}

  const std::string& Id(std::size_t element) const { return set_.lettering.elements[element].id; }

  std::vector<std::string> ElementsOf(const Hypothesis& h) const {
    switch (h.sentence->scope) {
      case Scope::kPair:
        return {Id(h.subject.element), Id(h.subject.next)};
      case Scope::kLine:
      case Scope::kLaterLine:
        return {Line(h).id};
      case Scope::kLetter:
      case Scope::kMark:
        break;
    }
    return {Id(h.subject.element)};
  }

  std::string LabelOf(const Hypothesis& h) const {
    switch (h.sentence->scope) {
      case Scope::kPair:
        return fmt::format("{}–{}", Name(h.subject.element), Name(h.subject.next));
      case Scope::kLine:
      case Scope::kLaterLine:
        return fmt::format("\"{}\"", Line(h).text);
      case Scope::kLetter:
        return set_.lettering.lines.size() > 1
                   ? fmt::format("{} in \"{}\"", Name(h.subject.element), Line(h).text)
                   : Name(h.subject.element);
      case Scope::kMark:
        break;
    }
    return "mark " + Name(h.subject.element);
  }

  std::string TextOf(const Hypothesis& h) const {
    SentenceParts parts;
    parts.name = Name(h.subject.element);
    if (h.sentence->scope == Scope::kPair) parts.next = Name(h.subject.next);
    parts.line = Line(h).text;
    parts.amount = AmountOf(std::abs(h.amplitude), *h.sentence);
    parts.than = set_.items.empty() ? "than in the set's outlines"
                 : set_.items.size() == 1
                     ? "than on the verified item"
                     : fmt::format("than on the {} verified items", set_.items.size());
    parts.positive = h.amplitude > 0;
    return h.sentence->words(parts);
  }

 private:
  const outline::Line& Line(const Hypothesis& h) const {
    return set_.lettering.lines[static_cast<std::size_t>(h.subject.line_idx)];
  }
  const std::string& Name(std::size_t element) const { return names_.at(Id(element)); }

  std::string AmountOf(double amount, const Sentence& s) const {
    if (!IsLength(s)) return fmt::format("{:.1f} %", 100 * amount);
    // Tracking adds up over a line: a tenth of a per cent matters.
    const int decimals = amount < 0.01 ? 2 : 1;
    std::string text = fmt::format("{:.{}f} % of cap height", 100 * amount, decimals);
    if (scale_ && scale_->is_known()) {
      text += fmt::format(" ({})", card::InMillimetres(amount, *scale_));
    }
    return text;
  }

  const refset::RefSet& set_;
  const std::optional<card::Scale>& scale_;
  std::map<std::string, std::string> names_;
};

}  // namespace

std::vector<TriedSentence> Tell(const Hypotheses& hypotheses, const refset::RefSet& set,
                                const std::optional<card::Scale>& scale) {
  const Teller teller(set, scale);
  std::vector<TriedSentence> told;
  for (const Hypothesis& h : hypotheses.all) {
    if (!h.tried) continue;
    TriedSentence t;
    t.key = h.sentence->key;
    t.elements = teller.ElementsOf(h);
    for (const auto& id : t.elements) t.key += " " + id;
    t.measure = h.sentence->measure;
    t.label = teller.LabelOf(h);
    t.unit = h.sentence->unit;
    t.amplitude = h.amplitude;
    t.u = h.u;
    t.z = h.z;
    t.level = h.level;
    t.p = h.p;
    if (!h.p) {
      const FamilyBudget& budget = BudgetOf(FamilyOf(*h.sentence, h.subject));
      t.beyond = MeasuredShare{budget.beyond, budget.photos};
    }
    t.limit = h.limit;
    t.departs = h.rank > 0;
    t.decidable = h.limit <= (IsLength(*h.sentence) ? set.asks.place : set.asks.size);
    t.text = teller.TextOf(h);
    told.push_back(std::move(t));
  }
  return told;
}

std::vector<Reason> DeparturesOf(const Hypotheses& hypotheses, const refset::RefSet& set,
                                 const std::optional<card::Scale>& scale) {
  const Teller teller(set, scale);
  std::vector<const Hypothesis*> departing;
  for (const Hypothesis& h : hypotheses.all) {
    if (h.rank > 0) departing.push_back(&h);
  }
  std::sort(departing.begin(), departing.end(),
            [](const Hypothesis* a, const Hypothesis* b) { return a->rank < b->rank; });
  std::vector<Reason> reasons;
  for (const Hypothesis* h : departing) {
    Reason r;
    r.measure = h->sentence->measure;
    r.elements = teller.ElementsOf(*h);
    r.value = h->amplitude;
    r.u = h->u;
    r.unit = h->sentence->unit;
    r.z = h->z;
    r.level = h->level;
    r.p = h->p;
    r.effect = 100 * h->amplitude;
    r.text = teller.TextOf(*h);
    if (h->alike >= 0) {
      r.text += " This explains the photo nearly as well: " +
                teller.TextOf(hypotheses.all[static_cast<std::size_t>(h->alike)]);
    }
    reasons.push_back(std::move(r));
  }
  return reasons;
}

const Feature* FeatureOf(const Comparison& comparison, const Reason& reason) {
  const std::string measure = reason.measure == "letter size"           ? "letter height"
                              : reason.measure == "letter place across" ? "baseline"
                                                                        : reason.measure;
  for (const Feature& f : comparison.features) {
    if (f.measure == measure && f.elements == reason.elements) return &f;
  }
  return nullptr;
}

}  // namespace debossier::compare
