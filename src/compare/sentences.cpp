#include "compare/sentences.h"

#include <fmt/format.h>

#include <array>

namespace debossier::compare {

namespace {

PoseVector Rows(double along, double across, double log_width, double log_height) {
  PoseVector v;
  v << along, across, log_width, log_height, 0;
  return v;
}

bool OnLine(const PoseFrame& frame, int line_idx, std::size_t element) {
  return frame.elements[element].line_idx == line_idx && !frame.elements[element].is_mark;
}

/// The mark stands with the wordmark, after its last letter.
bool FollowsLine(const PoseFrame& frame, int line_idx, std::size_t element) {
  return frame.elements[element].is_mark && line_idx == 0;
}

PoseVector Step(const PoseFrame& frame, const Subject& s, std::size_t element) {
  const bool right = (OnLine(frame, s.line_idx, element) && element > s.element) ||
                     FollowsLine(frame, s.line_idx, element);
  return Rows(right ? 1 : 0, 0, 0, 0);
}

/// By the letter's number, about the middle of the line.
PoseVector Tracking(const PoseFrame& frame, const Subject& s, std::size_t element) {
  double number = 0;
  double letters = 0;
  for (std::size_t j = 0; j < frame.elements.size(); ++j) {
    if (!OnLine(frame, s.line_idx, j)) continue;
    if (j < element) ++number;
    ++letters;
  }
  if (FollowsLine(frame, s.line_idx, element)) number = letters;
  const bool moves = OnLine(frame, s.line_idx, element) || FollowsLine(frame, s.line_idx, element);
  return Rows(moves ? number - (letters - 1) / 2 : 0, 0, 0, 0);
}

PoseVector LineSize(const PoseFrame& frame, const Subject& s, std::size_t element) {
  if (!OnLine(frame, s.line_idx, element)) return PoseVector::Zero();
  const outline::Point from_middle =
      frame.elements[element].at - frame.line_centres[static_cast<std::size_t>(s.line_idx)];
  return Rows(from_middle.x(), from_middle.y(), 1, 1);
}

PoseVector LineAlong(const PoseFrame& frame, const Subject& s, std::size_t element) {
  return Rows(OnLine(frame, s.line_idx, element) ? 1 : 0, 0, 0, 0);
}

PoseVector LineAcross(const PoseFrame& frame, const Subject& s, std::size_t element) {
  return Rows(0, OnLine(frame, s.line_idx, element) ? 1 : 0, 0, 0);
}

PoseVector ElementAlong(const PoseFrame&, const Subject& s, std::size_t element) {
  return Rows(element == s.element ? 1 : 0, 0, 0, 0);
}

PoseVector ElementAcross(const PoseFrame&, const Subject& s, std::size_t element) {
  return Rows(0, element == s.element ? 1 : 0, 0, 0);
}

PoseVector ElementSize(const PoseFrame&, const Subject& s, std::size_t element) {
  const double moves = element == s.element ? 1 : 0;
  return Rows(0, 0, moves, moves);
}

PoseVector SizeOnBaseline(const PoseFrame& frame, const Subject& s, std::size_t element) {
  const double moves = element == s.element ? 1 : 0;
  return Rows(0, moves * frame.elements[element].height / 2, moves, moves);
}

using P = SentenceParts;

std::string WiderPair(const P& p) {
  return fmt::format("The gap between {} and {} is {} {} {}: from {} on, \"{}\" stands further {}.",
                     p.name, p.next, p.amount, p.positive ? "wider" : "narrower", p.than, p.next,
                     p.line, p.positive ? "right" : "left");
}
std::string WiderLine(const P& p) {
  return fmt::format("\"{}\" is spaced {} by {} a letter {}, its letters being of the same size.",
                     p.line, p.positive ? "wider" : "narrower", p.amount, p.than);
}
std::string LargerLine(const P& p) {
  return fmt::format("\"{}\" is {} {} against the wordmark {}.", p.line, p.amount,
                     p.positive ? "larger" : "smaller", p.than);
}
std::string LineFurtherAlong(const P& p) {
  return fmt::format("\"{}\" stands {} further {} against the wordmark {}.", p.line, p.amount,
                     p.positive ? "right" : "left", p.than);
}
std::string LineHigher(const P& p) {
  return fmt::format("\"{}\" stands {} {} the wordmark {}.", p.line, p.amount,
                     p.positive ? "closer to" : "further below", p.than);
}
std::string LetterAlong(const P& p) {
  return fmt::format("The letter {} alone stands {} further {} in \"{}\" {}.", p.name, p.amount,
                     p.positive ? "right" : "left", p.line, p.than);
}
std::string LetterHigher(const P& p) {
  return fmt::format("The letter {} alone stands {} {} in \"{}\" {}.", p.name, p.amount,
                     p.positive ? "higher" : "lower", p.line, p.than);
}
std::string LargerLetter(const P& p) {
  return fmt::format("The letter {} in \"{}\" is {} {} {}.", p.name, p.line, p.amount,
                     p.positive ? "larger" : "smaller", p.than);
}
std::string MarkFurther(const P& p) {
  return fmt::format("The mark {} stands {} {} the last letter {}.", p.name, p.amount,
                     p.positive ? "further from" : "closer to", p.than);
}
std::string MarkHigher(const P& p) {
  return fmt::format("The mark {} stands {} {} {}.", p.name, p.amount,
                     p.positive ? "higher" : "lower", p.than);
}
std::string LargerMark(const P& p) {
  return fmt::format("The mark {} is {} {} {}.", p.name, p.amount,
                     p.positive ? "larger" : "smaller", p.than);
}

constexpr const char* kLength = "cap heights";
constexpr const char* kRatio = "ratio";

constexpr std::array<Sentence, 12> kSentences = {{
    {"pair-wider", "gap", Scope::kPair, Family::kLines, kLength, Frees::kPlaceAlong, Step,
     WiderPair},
    {"line-spaced-wider", "tracking", Scope::kLine, Family::kLines, kLength, Frees::kPlaceAlong,
     Tracking, WiderLine},
    {"line-larger", "line height", Scope::kLaterLine, Family::kLines, kRatio, Frees::kOwnPlace,
     LineSize, LargerLine},
    {"line-further-along", "line place along", Scope::kLaterLine, Family::kLines, kLength,
     Frees::kNothing, LineAlong, LineFurtherAlong},
    {"line-higher", "line place across", Scope::kLaterLine, Family::kLines, kLength,
     Frees::kNothing, LineAcross, LineHigher},
    {"letter-further-along", "letter place along", Scope::kLetter, Family::kLetterPlace, kLength,
     Frees::kNothing, ElementAlong, LetterAlong},
    {"letter-higher", "letter place across", Scope::kLetter, Family::kLetterPlace, kLength,
     Frees::kNothing, ElementAcross, LetterHigher},
    {"letter-larger", "letter size", Scope::kLetter, Family::kLetterSize, kRatio, Frees::kOwnPlace,
     ElementSize, LargerLetter},
    {"letter-larger-on-baseline", "letter size", Scope::kLetter, Family::kLetterSize, kRatio,
     Frees::kOwnAlong, SizeOnBaseline, LargerLetter},
    {"mark-further-along", "mark gap", Scope::kMark, Family::kMarkAlong, kLength, Frees::kNothing,
     ElementAlong, MarkFurther},
    {"mark-higher", "mark rise", Scope::kMark, Family::kMarkAcross, kLength, Frees::kNothing,
     ElementAcross, MarkHigher},
    {"mark-larger", "mark size", Scope::kMark, Family::kMarkSize, kRatio, Frees::kOwnPlace,
     ElementSize, LargerMark},
}};

}  // namespace

std::span<const Sentence> Sentences() { return kSentences; }

Family FamilyOf(const Sentence& sentence, const Subject& subject) {
  if (subject.line_idx == 0) return sentence.family;
  if (sentence.family == Family::kLetterPlace) return Family::kSmallLetterPlace;
  if (sentence.family == Family::kLetterSize) return Family::kSmallLetterSize;
  return sentence.family;
}

std::vector<Subject> SubjectsOf(Scope scope, const PoseFrame& frame) {
  std::vector<Subject> subjects;
  const std::size_t n = frame.elements.size();
  if (scope == Scope::kLine || scope == Scope::kLaterLine) {
    for (int l = scope == Scope::kLaterLine; l < static_cast<int>(frame.lines()); ++l) {
      std::size_t letters = 0;
      for (std::size_t j = 0; j < n; ++j) letters += OnLine(frame, l, j);
      if (letters >= (scope == Scope::kLine ? 3U : 2U)) subjects.push_back({l, 0, 0});
    }
    return subjects;
  }
  for (std::size_t j = 0; j < n; ++j) {
    const PoseElement& e = frame.elements[j];
    if (e.is_mark != (scope == Scope::kMark)) continue;
    if (scope != Scope::kPair) {
      subjects.push_back({e.line_idx, j, 0});
    } else if (j + 1 < n && OnLine(frame, e.line_idx, j + 1)) {
      subjects.push_back({e.line_idx, j, j + 1});
    }
  }
  return subjects;
}

BlockColumn ColumnOf(PoseVector (*rows)(const PoseFrame&, const Subject&, std::size_t),
                     const PoseFrame& frame, const Subject& subject) {
  BlockColumn column;
  for (std::size_t j = 0; j < frame.elements.size(); ++j) {
    column.push_back(rows(frame, subject, j));
  }
  return column;
}

std::vector<BlockColumn> FreedBy(const Sentence& sentence, const PoseFrame& frame,
                                 const Subject& subject) {
  const bool line = sentence.scope == Scope::kLine || sentence.scope == Scope::kLaterLine;
  std::vector<BlockColumn> freed;
  switch (sentence.frees) {
    case Frees::kNothing:
      break;
    case Frees::kPlaceAlong:
      for (int l = 1; l < static_cast<int>(frame.lines()); ++l) {
        if (subject.line_idx != 0 && subject.line_idx != l) continue;
        freed.push_back(ColumnOf(LineAlong, frame, {l, 0, 0}));
      }
      break;
    case Frees::kOwnPlace:
      freed.push_back(ColumnOf(line ? LineAlong : ElementAlong, frame, subject));
      freed.push_back(ColumnOf(line ? LineAcross : ElementAcross, frame, subject));
      break;
    case Frees::kOwnAlong:
      freed.push_back(ColumnOf(ElementAlong, frame, subject));
      break;
  }
  return freed;
}

}  // namespace debossier::compare
