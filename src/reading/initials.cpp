#include "reading/initials.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <opencv2/imgproc.hpp>

#include "base/unicode.h"
#include "outline/lettering.h"
#include "reading/letter_template.h"

namespace debossier::reading {

namespace {

constexpr double kFine = 24;  // px per cap height
constexpr std::array kSizes{0.92, 1.0, 1.08};
constexpr std::array kGains{-0.02, 0.015, 0.05};
constexpr double kAcross = 0.06;  // cap heights that an initial may lie higher or lower
constexpr double kAbove = 1.12;
constexpr double kBelow = 0.33;

struct Word {
  std::size_t first = 0;
  std::size_t end = 0;
  bool links = false;
};

std::vector<Word> WordsOf(const std::vector<std::string>& characters) {
  std::vector<Word> words;
  for (std::size_t k = 0; k < characters.size();) {
    std::size_t end = k;
    std::string text;
    while (end < characters.size() && IsLetter(characters[end])) text += characters[end++];
    if (end > k) words.push_back({k, end, k > 0 && outline::IsLinkingWord(text)});
    k = end + 1;
  }
  return words;
}

/// The best correlation of a letter anywhere in the window, its right ink edge within `play` of
/// `right` (window columns).
double BestIn(const cv::Mat& window, double baseline, double right, double play,
              const LetterTemplate& letter) {
  double best = 0;
  cv::Mat centred = window - cv::mean(window)[0];
  const double energy = centred.dot(centred);
  if (!(energy > 0)) return 0;
  const int reach_x = std::max(1, cvRound(play));
  const int reach_y = std::max(1, cvRound(kAcross * kFine));
  const double n = static_cast<double>(window.total());
  for (int dy = -reach_y; dy <= reach_y; ++dy) {
    for (int dx = -reach_x; dx <= reach_x; ++dx) {
      const cv::Point at(cvRound(right - letter.right) + dx - letter.origin.x,
                         cvRound(baseline) + dy - letter.origin.y);
      const cv::Rect place(at, letter.coverage.size());
      const cv::Rect inside = place & cv::Rect(cv::Point(0, 0), window.size());
      if (inside.area() < 9) continue;
      const cv::Mat part = letter.coverage(inside - place.tl());
      const double sum = cv::sum(part)[0];
      const double own = part.dot(part) - sum * sum / n;
      if (!(own > 0)) continue;
      best = std::max(best, centred(inside).dot(part) / std::sqrt(own * energy));
    }
  }
  return best;
}

class InitialReader {
 public:
  InitialReader(const LineBand& band, const StringFit& fit) : fit_(fit) {
    scale_ = kFine / band.px_per_cap;
    cv::resize(band.coverage, fine_, cv::Size(), scale_, scale_, cv::INTER_AREA);
    style_.px_per_cap = kFine * fit.size;
    style_.widen = fit.widen;
    style_.blur_px = band.blur_px * scale_;
    baseline_ = (fit.baseline + 0.5) * scale_ - 0.5;
    characters_ = outline::Characters(fit.text);
    for (const auto* face : FacesFor(band)) templates_.emplace_back(*face);
  }

  const std::vector<std::string>& characters() const { return characters_; }

  /// Of a capital against a small letter at the head of `word`.
  double CapitalBy(const Word& word) {
    LetterTemplates& own = templates_[static_cast<std::size_t>(fit_.face)];
    const std::string capital = ToCapital(characters_[word.first]);
    const std::string small = ToSmallLetter(characters_[word.first]);
    const LetterTemplate* wide = own.Get(capital, style_);
    const LetterTemplate* narrow = own.Get(small, style_);
    const LetterTemplate* as_fitted = own.Get(characters_[word.first], style_);
    if (wide == nullptr || narrow == nullptr) return 0;
    const double width = std::max(wide->right - wide->left, narrow->right - narrow->left);
    const double gap = (std::max(0.0, fit_.tracking) + 0.1) * style_.px_per_cap;
    double right = Column(word.first) + as_fitted->right;
    double play = 0.12 * style_.px_per_cap;
    if (word.first + 1 < word.end) {
      const LetterTemplate* next = own.Get(characters_[word.first + 1], style_);
      right = Column(word.first + 1) + (next == nullptr ? 0 : next->left) - gap;
    } else {
      // A word of one letter: centred about where it was fitted.
      right = Column(word.first) + 0.5 * (as_fitted->left + as_fitted->right + width);
      play = 0.5 * width;
    }
    const int first = cvRound(right - width - 0.15 * style_.px_per_cap);
    const int end = cvRound(right + 0.5 * gap) + 1;
    const cv::Rect wanted(cv::Point(first, cvRound(baseline_ - kAbove * style_.px_per_cap)),
                          cv::Point(end, cvRound(baseline_ + kBelow * style_.px_per_cap)));
    const cv::Rect inside = wanted & cv::Rect(cv::Point(0, 0), fine_.size());
    if (inside.area() < 50) return 0;
    const auto best = [&](const std::string& character) {
      double most = 0;
      for (auto& templates : templates_) {
        for (const double size : kSizes) {
          for (const double gain : kGains) {
            Drawn drawn = style_;
            drawn.px_per_cap *= size;
            drawn.gain = gain;
            const LetterTemplate* letter = templates.Get(character, drawn);
            if (letter == nullptr || letter->coverage.empty()) continue;
            most = std::max(
                most, BestIn(fine_(inside), baseline_ - inside.y, right - inside.x, play, *letter));
          }
        }
      }
      return most;
    };
    return BetterBy(best(capital), best(small));
  }

 private:
  double Column(std::size_t k) const { return (fit_.pen[k] + 0.5) * scale_ - 0.5; }

  const StringFit& fit_;
  double scale_ = 1;
  cv::Mat fine_;
  Drawn style_;
  double baseline_ = 0;
  std::vector<std::string> characters_;
  std::vector<LetterTemplates> templates_;
};

}  // namespace

double BetterBy(double a, double b) {
  const auto left = [](double q) { return 1 - std::pow(std::clamp(q, 0.0, 0.9999), 2); };
  return 0.5 * std::log(left(b) / left(a));
}

InitialsReading ReadInitials(const LineBand& band, const StringFit& fit) {
  InitialsReading out;
  if (fit.pen.empty()) return out;
  InitialReader reader(band, fit);
  double plain = 0;
  double links = 0;
  for (const Word& word : WordsOf(reader.characters())) {
    // Missing foil makes an I of an i, and the J of many faces descends as a j does.
    const std::string capital = ToCapital(reader.characters()[word.first]);
    if (capital == "I" || capital == "J") continue;
    (word.links ? links : plain) += reader.CapitalBy(word);
  }
  out.margin = 0.5 * std::max(plain + links, plain - links);
  out.links_small = -0.5 * links;
  return out;
}

}  // namespace debossier::reading
