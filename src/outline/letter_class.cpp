#include "outline/letter_class.h"

#include "base/quantile.h"
#include "base/unicode.h"

namespace debossier::outline {

namespace {

bool OneOf(const std::string& character, const char* letters) {
  const std::string base = BaseLetter(character);
  return base.size() == 1 && std::string(letters).find(base[0]) != std::string::npos;
}

}  // namespace

bool HasFlatTop(const std::string& character) {
  return !HasAccent(character) && OneOf(character, "BDEFHIKLMNPRTUVWXYZ");
}
bool HasFlatBase(const std::string& character) {
  return OneOf(character, "ABDEFHIKLMNPRTXYZfhiklmnrxz");
}
bool HasFlatXHeight(const std::string& character) {
  return !HasAccent(character) && OneOf(character, "mnruvwxyz");
}
bool Ascends(const std::string& character) {
  return !HasAccent(character) && OneOf(character, "bdfhkl");
}

double LineHeights::Nominal() const {
  if (cap_height > 0) return cap_height;
  if (ascender > 0) return ascender;
  return x_height / kUsualXHeight;
}

double NominalHeight(const Line& line) {
  return line.cap_height > 0 ? line.cap_height : line.x_height / kUsualXHeight;
}

LineHeights HeightsOf(const std::vector<std::string>& characters, const std::vector<Box>& boxes) {
  std::vector<double> base, base_any, cap, cap_any, small, ascender;
  const auto each = [&](auto visit) {
    for (std::size_t i = 0; i < characters.size(); ++i) {
      if (!boxes[i].empty() && IsLetter(characters[i])) visit(characters[i], boxes[i]);
    }
  };
  each([&](const std::string& c, const Box& b) {
    if (HasFlatBase(c)) base.push_back(b.min.y());
    base_any.push_back(b.min.y());
  });
  LineHeights heights;
  heights.baseline = Median(base.empty() ? base_any : base);
  each([&](const std::string& c, const Box& b) {
    const double top = b.max.y() - heights.baseline;
    if (HasFlatTop(c)) cap.push_back(top);
    if (IsCapital(c) && !HasAccent(c)) cap_any.push_back(top);
    if (HasFlatXHeight(c)) small.push_back(top);
    if (Ascends(c)) ascender.push_back(top);
  });
  heights.cap_height = Median(cap.empty() ? cap_any : cap);
  heights.x_height = Median(small);
  heights.ascender = Median(ascender);
  return heights;
}

}  // namespace debossier::outline
