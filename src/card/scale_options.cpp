#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "card/scale.h"

namespace debossier::card {

namespace {

Unexpected Wrong(const std::string& what, std::string message, std::string hint) {
  return Refuse(ErrorCode::kUsage, "card", what, std::move(message), std::move(hint));
}

bool AllFinite(const std::vector<double>& values) {
  return std::all_of(values.begin(), values.end(), [](double v) { return std::isfinite(v); });
}

Point Corner(const std::vector<double>& values, std::size_t i) {
  return {values[2 * i % values.size()], values[(2 * i + 1) % values.size()]};
}

constexpr double kLeastDistancePx = 20;

Result<std::monostate> CheckPoints(const ScaleOptions& o) {
  if (o.points.size() != 4) {
    return Wrong("scale points", fmt::format("{} numbers are given", o.points.size()),
                 "give four: x1,y1,x2,y2 in photo pixels");
  }
  if (!AllFinite(o.points)) return Wrong("scale points", "a number is not finite", "give pixels");
  if (!(o.points_mm >= 0.1 && o.points_mm <= 2000)) {
    return Wrong("scale length", "the distance of the two points is missing or out of range",
                 "give 0.1 to 2000 mm");
  }
  if ((Corner(o.points, 1) - Corner(o.points, 0)).norm() < kLeastDistancePx) {
    return Wrong("scale points", "the two points are one, or nearly",
                 "take points at least 20 pixels apart; far apart is better");
  }
  return std::monostate{};
}

Result<std::monostate> CheckCorners(const ScaleOptions& o) {
  if (o.corners.size() != 8) {
    return Wrong("scale corners", fmt::format("{} numbers are given", o.corners.size()),
                 "give eight: x1,y1,x2,y2,x3,y3,x4,y4 in photo pixels");
  }
  if (!AllFinite(o.corners)) return Wrong("scale corners", "a number is not finite", "give pixels");
  const double width = o.rectangle_width_mm, height = o.rectangle_height_mm;
  if (!(height >= 1 && width >= height && width <= 2000)) {
    return Wrong("scale rectangle", "the size is out of range",
                 "give width,height in mm, the longer side first, 1 to 2000 mm");
  }
  double turn = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    const Point a = Corner(o.corners, i + 1) - Corner(o.corners, i);
    const Point b = Corner(o.corners, i + 2) - Corner(o.corners, i + 1);
    if (a.norm() < kLeastDistancePx) {
      return Wrong("scale corners", "two corners are one, or nearly",
                   "take corners at least 20 pixels apart");
    }
    // The sine of the angle at the corner; all of one sign go round once.
    const double sine = (a.x() * b.y() - a.y() * b.x()) / (a.norm() * std::max(b.norm(), 1e-9));
    if (i == 0) turn = sine > 0 ? 1 : -1;
    if (turn * sine < 0.1) {
      return Wrong("scale corners", "the corners do not go round a rectangle",
                   "give them in order round the rectangle, both ends of a long side first");
    }
  }
  const auto side = [&](std::size_t i) {
    return (Corner(o.corners, i + 1) - Corner(o.corners, i)).norm();
  };
  // No photo that can be measured makes the longer side of a card look the shorter one.
  if (width > 1.3 * height && side(0) + side(2) < side(1) + side(3)) {
    return Wrong("scale corners", "the first two corners are the ends of a short side",
                 "begin with both ends of a long side");
  }
  return std::monostate{};
}

}  // namespace

Result<std::monostate> ScaleOptions::Check() const {
  if (card + !points.empty() + !corners.empty() > 1) {
    return Wrong("scale", "more than one way to find the scale is given",
                 "give the card, two points or four corners");
  }
  if (card_check_mm) {
    if (!card) return Wrong("card check length", "is given without the card", "ask for the card");
    if (!(*card_check_mm >= 50 && *card_check_mm <= 150)) {
      return Wrong("card check length", "is out of range",
                   fmt::format("give what the line of {:.0f} mm measures in print, 50 to 150 mm",
                               kCheckLengthMm));
    }
  }
  if (points_mm != 0 && points.empty()) {
    return Wrong("scale length", "is given without two points", "give the points too");
  }
  const ScaleOptions defaults;
  if (points.empty() && corners.empty() && pick_px != defaults.pick_px) {
    return Wrong("picking uncertainty", "is given without points or corners",
                 "give the points or corners too");
  }
  if (!(pick_px >= 0.05 && pick_px <= 100)) {
    return Wrong("picking uncertainty", "is out of range", "give 0.05 to 100 pixels");
  }
  if (!points.empty()) return CheckPoints(*this);
  if (!corners.empty()) return CheckCorners(*this);
  return std::monostate{};
}

Result<std::monostate> ScaleOptions::CheckWithin(const cv::Size& photo) const {
  for (const auto* values : {&points, &corners}) {
    for (std::size_t i = 0; 2 * i + 1 < values->size(); ++i) {
      const Point p = Corner(*values, i);
      if (p.x() >= -0.5 && p.y() >= -0.5 && p.x() <= photo.width - 0.5 &&
          p.y() <= photo.height - 0.5) {
        continue;
      }
      return Wrong(values == &points ? "scale points" : "scale corners",
                   fmt::format("({:g}, {:g}) lies outside the photo of {} x {} pixels", p.x(),
                               p.y(), photo.width, photo.height),
                   "give pixels of the photo as it is shown upright");
    }
  }
  return std::monostate{};
}

std::vector<std::pair<std::string, std::string>> ScaleOptions::Echo() const {
  std::vector<std::pair<std::string, std::string>> echo;
  if (card) echo.emplace_back("card", "yes");
  if (card_check_mm) echo.emplace_back("card-check-mm", fmt::format("{:g}", *card_check_mm));
  if (!points.empty()) {
    echo.emplace_back("scale-points", fmt::format("{:g}", fmt::join(points, ",")));
    echo.emplace_back("scale-mm", fmt::format("{:g}", points_mm));
  }
  if (!corners.empty()) {
    echo.emplace_back("scale-corners", fmt::format("{:g}", fmt::join(corners, ",")));
    echo.emplace_back("scale-size",
                      fmt::format("{:g},{:g}", rectangle_width_mm, rectangle_height_mm));
  }
  if (!points.empty() || !corners.empty()) {
    echo.emplace_back("scale-pick-px", fmt::format("{:g}", pick_px));
  }
  return echo;
}

const char* Name(ScaleMethod method) {
  switch (method) {
    case ScaleMethod::kNone:
      return "none";
    case ScaleMethod::kCard:
      return "card";
    case ScaleMethod::kRectangle:
      return "rectangle";
    case ScaleMethod::kTwoPoints:
      return "two-points";
  }
  DEBOSSIER_ASSERT(!"a scale method outside its enumeration");
}

std::string InMillimetres(double cap_heights, const Scale& scale) {
  const double mm = cap_heights * scale.mm_per_cap_height.value;
  return fmt::format("{:.{}f} mm", mm, std::abs(mm) < 0.1 ? 3 : 2);
}

}  // namespace debossier::card
