#include "trace/check_letters.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "base/unicode.h"
#include "outline/letter_class.h"
#include "reading/initials.h"
#include "reading/letter_template.h"
#include "separate/raster.h"

namespace debossier::trace {

namespace {

using reading::LetterTemplate;
using reading::LetterTemplates;

constexpr double kPx = 24;     // per cap height of the line
constexpr double kBlur = 1.2;  // px
constexpr double kLeastWiden = 0.4;
constexpr double kMostWiden = 1.8;
struct Weight {
  double gain = 0;
  double bolder = 0;
};
constexpr std::array kWeights{Weight{-0.02, 0}, Weight{0.02, 0}, Weight{0.06, 0},
                              Weight{-0.01, 0.05}, Weight{0, 0.1}};

/// The traced letter on its baseline.
struct Drawn {
  cv::Mat coverage;
  int baseline = 0;  ///< Row.
  double left = 0;   ///< Ink edges, columns.
  double right = 0;
};

Drawn DrawLetter(const outline::Element& element, const outline::Line& line, double height) {
  constexpr double kAbove = 1.45;
  constexpr double kBelow = 0.55;
  constexpr double kAside = 0.3;
  Drawn out;
  const outline::Box box = outline::Bounds(element.outline);
  const double scale = kPx / height;
  const double width = box.width() * scale;
  out.left = kAside * kPx;
  out.right = out.left + width;
  out.baseline = cvRound(kAbove * kPx);
  const cv::Size size(cvCeil(width + 2 * kAside * kPx), cvCeil((kAbove + kBelow) * kPx));
  auto polygons = outline::Flatten(element.outline, 0.1 / scale);
  for (auto& polygon : polygons) {
    for (auto& p : polygon) {
      p = outline::Point((p.x() - box.min.x()) * scale + out.left,
                         out.baseline - (p.y() - line.baseline) * scale);
    }
  }
  out.coverage = cv::Mat::zeros(size, CV_32F);
  separate::AddAreaCoverage(polygons, out.coverage);
  cv::GaussianBlur(out.coverage, out.coverage, cv::Size(), kBlur);
  return out;
}

/// The best correlation of one character of one face, widened to the traced letter's width
/// and moved by at most `reach` px.
double Likeness(const Drawn& drawn, LetterTemplates& templates, const std::string& character,
                int reach) {
  reading::Drawn style;
  style.px_per_cap = kPx;
  style.blur_px = kBlur;
  const LetterTemplate* plain = templates.Get(character, style);
  if (plain == nullptr || plain->coverage.empty()) return 0;
  const double width = std::max(1.0, drawn.right - drawn.left);
  cv::Mat centred = drawn.coverage - cv::mean(drawn.coverage)[0];
  const double energy = centred.dot(centred);
  const double n = static_cast<double>(centred.total());
  double best = 0;
  for (const Weight& weight : kWeights) {
    style.gain = weight.gain;
    style.bolder = weight.bolder;
    const double grown = 2 * (weight.gain + weight.bolder) * kPx;
    const double wanted = (width - grown) / std::max(1.0, plain->right - plain->left);
    // In steps, so that drawn letters are kept.
    style.widen = std::clamp(std::round(wanted * 16) / 16, kLeastWiden, kMostWiden);
    const LetterTemplate* letter = templates.Get(character, style);
    const double middle = 0.5 * (drawn.left + drawn.right - letter->left - letter->right);
    for (int dy = -reach; dy <= reach; ++dy) {
      for (int dx = -reach; dx <= reach; ++dx) {
        const cv::Point at(cvRound(middle) + dx - letter->origin.x,
                           drawn.baseline + dy - letter->origin.y);
        const cv::Rect place(at, letter->coverage.size());
        const cv::Rect inside = place & cv::Rect(cv::Point(0, 0), centred.size());
        if (inside.area() == 0) continue;
        const cv::Mat part = letter->coverage(inside - at);
        const double sum = cv::sum(part)[0];
        // What lies outside of the window counts as unexplained.
        const double own = letter->squares - sum * sum / n;
        if (own > 0 && energy > 0) {
          best = std::max(best, centred(inside).dot(part) / std::sqrt(own * energy));
        }
      }
    }
  }
  return best;
}

class LetterChecker {
 public:
  LetterChecker() {
    for (const auto& face : typeset::GeneralFaces()) faces_.emplace_back(face);
  }

  /// The letters of one line, taken as slanted by `slant` (dx/dy).
  std::vector<LetterCheck> Line(const outline::Lettering& lettering, int line_idx, double slant) {
    std::vector<LetterCheck> checks;
    const outline::Line& line = lettering.lines[static_cast<std::size_t>(line_idx)];
    const double height = outline::NominalHeight(line);
    if (!(height > 0)) return checks;
    for (const auto& element : lettering.elements) {
      const std::string base = BaseLetter(element.character);
      const bool latin = base.size() == 1 && (IsCapital(base) || IsSmallLetter(base));
      if (element.line_idx != line_idx || element.kind != outline::ElementKind::kLetter || !latin ||
          element.outline.empty()) {
        continue;
      }
      outline::Element upright = element;
      outline::Affine back;
      back.linear << 1, -slant, 0, 1;
      upright.outline = outline::Transformed(element.outline, back);
      checks.push_back(Letter(upright, base, DrawLetter(upright, line, height)));
    }
    return checks;
  }

 private:
  LetterCheck Letter(const outline::Element& element, const std::string& base, const Drawn& drawn) {
    LetterCheck check;
    check.id = element.id;
    check.line_idx = element.line_idx;
    check.character = element.character;
    const bool capital = IsCapital(base);
    const auto best = [&](const std::string& character, int reach) {
      double likeness = 0;
      for (auto& templates : faces_) {
        likeness = std::max(likeness, Likeness(drawn, templates, character, reach));
      }
      return likeness;
    };
    // All other letters where they stand, the likeliest of them a pixel to each side too.
    std::vector<std::pair<double, std::string>> others;
    for (char c = capital ? 'A' : 'a'; c <= (capital ? 'Z' : 'z'); ++c) {
      const std::string character(1, c);
      if (character != base) others.emplace_back(best(character, 0), character);
    }
    constexpr std::size_t kLikeliest = 4;
    std::sort(others.rbegin(), others.rend());
    others.resize(kLikeliest);
    double other = 0;
    for (const auto& [coarse, character] : others) {
      const double likeness = best(character, 1);
      if (likeness <= other) continue;
      other = likeness;
      check.looks_like = character;
    }
    check.likeness = best(element.character, 1);
    check.margin = reading::BetterBy(check.likeness, other);
    if (check.margin >= 0) check.looks_like = element.character;
    return check;
  }

  std::vector<LetterTemplates> faces_;
};

}  // namespace

std::vector<LetterCheck> CheckLetters(const outline::Lettering& lettering) {
  constexpr std::array kSlants{0.0, 0.21};  // upright and italic
  constexpr double kUprightEnough = 0.9;
  LetterChecker checker;
  std::vector<LetterCheck> checks;
  const auto likeness = [](const std::vector<LetterCheck>& line) {
    double sum = 0;
    for (const auto& check : line) sum += check.likeness / static_cast<double>(line.size());
    return sum;
  };
  for (int l = 0; l < static_cast<int>(lettering.lines.size()); ++l) {
    std::vector<LetterCheck> best = checker.Line(lettering, l, kSlants[0]);
    if (likeness(best) < kUprightEnough) {
      std::vector<LetterCheck> italic = checker.Line(lettering, l, kSlants[1]);
      if (likeness(italic) > likeness(best)) best = std::move(italic);
    }
    checks.insert(checks.end(), best.begin(), best.end());
  }
  return checks;
}

bool IsDoubtful(const LetterCheck& check) {
  constexpr double kLeastLikeness = 0.72;
  // A letter that is otherwise good may lie a little closer to another one: bars of an H stand high
  // in some faces and low in others.
  constexpr double kLeastMargin = -0.3;
  constexpr double kGoodLikeness = 0.88;
  constexpr double kLeastMarginOfGood = -0.7;
  // An I in a face whose J stands on the baseline, and the other way round, differ by a hook.
  const bool bare = BaseLetter(check.character) == "J" && check.looks_like == "I";
  const double least = check.likeness < kGoodLikeness ? kLeastMargin : kLeastMarginOfGood;
  return check.likeness < kLeastLikeness || (check.margin < least && !bare);
}

bool IsAnother(const LetterCheck& check) {
  // One worn letter of 135 photos of the right text went beyond; of 105 wrong texts six did not.
  constexpr double kClearly = -0.4;
  return IsDoubtful(check) && check.margin < kClearly;
}

Result<std::vector<LetterCheck>> DoubtfulLetters(const outline::Lettering& lettering) {
  constexpr double kMostDoubtful = 0.25;  // of a line's letters
  std::vector<LetterCheck> doubtful;
  std::vector<int> letters(lettering.lines.size(), 0);
  std::vector<int> doubts(lettering.lines.size(), 0);
  for (auto& check : CheckLetters(lettering)) {
    const auto line = static_cast<std::size_t>(check.line_idx);
    ++letters[line];
    if (!IsDoubtful(check)) continue;
    ++doubts[line];
    doubtful.push_back(std::move(check));
  }
  for (std::size_t l = 0; l < letters.size(); ++l) {
    if (doubts[l] < 2 || doubts[l] <= kMostDoubtful * letters[l]) continue;
    return Refuse(ErrorCode::kLetteringNotFound, "trace", "",
                  fmt::format("what is stamped is hardly \"{}\": {} of {} letters do not fit",
                              lettering.lines[l].text, doubts[l], letters[l]),
                  "check the text letter by letter as stamped; crop to the stamp, or give a "
                  "sharper photo");
  }
  return doubtful;
}

std::string InWords(const std::vector<LetterCheck>& doubtful, const outline::Lettering& lettering) {
  std::string out;
  for (const auto& check : doubtful) {
    const std::string& text = lettering.lines[static_cast<std::size_t>(check.line_idx)].text;
    const std::size_t number = std::stoul(check.id.substr(check.id.rfind('.') + 1)) + 1;
    out += fmt::format(
        "{}character {} of \"{}\" ({}) {}", out.empty() ? "" : "; ", number, text, check.character,
        check.margin < 0 ? "looks like " + check.looks_like : std::string("looks like no letter"));
  }
  return out;
}

}  // namespace debossier::trace
