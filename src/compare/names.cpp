// Names of the findings, and the cautions that every report shows.
#include <string>
#include <vector>

#include "compare/comparison.h"

namespace debossier::compare {

const char* Name(Finding finding) {
  switch (finding) {
    case Finding::kDeparts:
      return "departs";
    case Finding::kNoDepartureFound:
      return "no-departure-found";
    case Finding::kCannotTell:
      return "cannot-tell";
  }
  DEBOSSIER_ASSERT(!"a finding outside its enumeration");
}

const std::vector<std::string>& Cautions() {
  static const std::vector<std::string> cautions = {
      "Lettering alone proves nothing about an item as a whole. Real parts turn up on copies, "
      "linings are replaced and stamped again, and a duplicate die repeats the original down to "
      "its faults.",
      "\"No departure found\" is not a certificate. It means that this photo, held against this "
      "reference set, shows no difference larger than the detection limits stated.",
      "A departure can have an honest cause: a repair, a stamping made under other conditions, or "
      "a period or country variant that the reference set does not contain yet.",
      "The result is no better than the reference set. Whether the items behind the set were "
      "verified well is outside what this program can check.",
      "A decision that affects people or their goods belongs to a qualified specialist who has "
      "seen the item, and in a dispute to the law of the place."};
  return cautions;
}

}  // namespace debossier::compare
