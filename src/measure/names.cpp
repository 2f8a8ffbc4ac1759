// Names of letter and line cases, as results files write them.
#include "measure/measurements.h"

namespace debossier::measure {

const char* Name(LetterCase letter_case) {
  switch (letter_case) {
    case LetterCase::kCapital:
      return "capital";
    case LetterCase::kSmall:
      return "small";
    case LetterCase::kNone:
      return "none";
    case LetterCase::kCannotTell:
      return "cannot-tell";
  }
  DEBOSSIER_ASSERT(!"a letter case outside its enumeration");
}

const char* Name(LineCase line_case) {
  switch (line_case) {
    case LineCase::kCapitals:
      return "capitals";
    case LineCase::kTitle:
      return "title";
    case LineCase::kSmall:
      return "small";
    case LineCase::kSmallCapitals:
      return "small-capitals";
    case LineCase::kMixed:
      return "mixed";
    case LineCase::kCannotTell:
      return "cannot-tell";
  }
  DEBOSSIER_ASSERT(!"a line case outside its enumeration");
}

}  // namespace debossier::measure
