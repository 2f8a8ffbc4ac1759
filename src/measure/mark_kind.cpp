// Which circled sign stands in a mark: letters of the general faces compete for its inside.
#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "fit/edge.h"
#include "measure/measure_photo.h"
#include "reading/initials.h"
#include "reading/letter_template.h"

namespace debossier::measure {

namespace {

constexpr double kPx = 40;        // of the sign's diameter
constexpr double kInside = 0.34;  // radius within the ring, of the diameter
constexpr int kReach = 2;         // px that the letter may stand off the middle

/// The sign's box drawn upright, its middle in the middle.
cv::Mat InsideOf(const outline::Box& box, const fit::EdgeReader& reader) {
  const int size = cvRound(kPx) | 1;
  const int middle = size / 2;
  cv::Mat window(size, size, CV_32F);
  for (int y = 0; y < size; ++y) {
    for (int x = 0; x < size; ++x) {
      const Point at =
          box.centre() + Point((x - middle) / kPx * box.width(), (middle - y) / kPx * box.height());
      window.at<float>(y, x) = static_cast<float>(std::clamp(reader.CoverageAt(at, 0), -0.2, 1.2));
    }
  }
  return window;
}

/// Correlation of the window's inside with a letter whose box's middle lies `off` the middle.
double Agreement(const cv::Mat& window, const reading::LetterTemplate& letter,
                 const cv::Point& off) {
  const int middle = window.rows / 2;
  const int reach = cvRound(kInside * kPx);
  const cv::Point corner(middle + off.x - letter.coverage.cols / 2,
                         middle + off.y - letter.coverage.rows / 2);
  double n = 0;
  double a = 0;
  double b = 0;
  double aa = 0;
  double bb = 0;
  double ab = 0;
  for (int y = middle - reach; y <= middle + reach; ++y) {
    for (int x = middle - reach; x <= middle + reach; ++x) {
      if (std::hypot(x - middle, y - middle) > reach) continue;
      const cv::Point in = cv::Point(x, y) - corner;
      const bool drawn =
          in.x >= 0 && in.y >= 0 && in.x < letter.coverage.cols && in.y < letter.coverage.rows;
      const double u = window.at<float>(y, x);
      const double v = drawn ? letter.coverage.at<float>(in) : 0;
      n += 1;
      a += u;
      b += v;
      aa += u * u;
      bb += v * v;
      ab += u * v;
    }
  }
  const double energy = (aa - a * a / n) * (bb - b * b / n);
  return energy > 0 ? (ab - a * b / n) / std::sqrt(energy) : 0;
}

/// The best agreement of a letter in any general face, height, width and weight.
double BestAgreement(const cv::Mat& window, const std::string& letter, double blur_px) {
  double best = 0;
  for (const auto& face : typeset::GeneralFaces()) {
    reading::LetterTemplates templates(face);
    reading::Drawn style;
    style.blur_px = blur_px;
    for (const double height : {0.42, 0.52, 0.62}) {
      style.px_per_cap = height * kPx;
      for (const double widen : {0.9, 1.1}) {
        style.widen = widen;
        for (const double gain : {0.02, 0.08}) {
          style.gain = gain;
          const auto* drawn = templates.Get(letter, style);
          if (drawn == nullptr || drawn->coverage.empty()) continue;
          for (int y = -kReach; y <= kReach; ++y) {
            for (int x = -kReach; x <= kReach; ++x) {
              best = std::max(best, Agreement(window, *drawn, {x, y}));
            }
          }
        }
      }
    }
  }
  return best;
}

}  // namespace

std::string KindSeen(const outline::Box& box, const fit::PlaceReport& placed) {
  constexpr double kLeastAgreement = 0.6;
  constexpr double kLeastMargin = 0.2;
  constexpr double kMostBlur = 0.08 * kPx;
  struct Sign {
    const char* sign;
    const char* letter;
  };
  constexpr std::array kSigns{Sign{"®", "R"}, Sign{"©", "C"}};
  if (box.empty() || placed.rendered.empty()) return {};
  const fit::EdgeReader reader(placed.coverage.alpha, placed.map_from_stamp);
  const cv::Mat window = InsideOf(box, reader);
  const double px = placed.map_from_stamp.ScaleAt(box.centre()) * box.height() / kPx;
  const double blur = placed.rendered.blur_px / px;
  if (blur > kMostBlur) return {};
  std::array<double, 2> agreement{};
  for (std::size_t k = 0; k < kSigns.size(); ++k) {
    agreement[k] = BestAgreement(window, kSigns[k].letter, blur);
  }
  const std::size_t best = agreement[1] > agreement[0] ? 1 : 0;
  if (agreement[best] < kLeastAgreement) return {};
  if (reading::BetterBy(agreement[best], agreement[1 - best]) < kLeastMargin) return {};
  return kSigns[best].sign;
}

}  // namespace debossier::measure
