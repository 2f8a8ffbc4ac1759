#include "reading/line_reading.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>

#include "base/unicode.h"
#include "outline/lettering.h"
#include "reading/initials.h"
#include "reading/letter_template.h"

namespace debossier::reading {

namespace {

constexpr double kCoarse = 10;           // px per cap height
constexpr double kBaselineReach = 0.55;  // expected cap heights
constexpr double kPlay = 0.09;           // of a letter's place, its cap heights
constexpr double kPlayOfSpace = 0.3;
constexpr double kPlayPrice = 0.15;  // of a letter's energy, at the end of its play
constexpr std::array kTrackings{-0.04, 0.06, 0.16, 0.28, 0.42};

/// The band at the coarse resolution, its mean taken off.
struct Coarse {
  cv::Mat relative;  ///< CV_32F.
  double baseline = 0;
  double blur_px = 0;
  double energy = 0;
  int reach = 0;  ///< Rows that a baseline may lie above or below.
};

Coarse Coarsened(const LineBand& band) {
  Coarse out;
  const double scale = kCoarse / band.px_per_cap;
  const cv::Size size(std::max(1, cvRound(band.coverage.cols * scale)),
                      std::max(1, cvRound(band.coverage.rows * scale)));
  cv::resize(band.coverage, out.relative, size, 0, 0, cv::INTER_AREA);
  out.relative -= cv::mean(out.relative)[0];
  out.baseline = (band.baseline + 0.5) * scale - 0.5;
  out.blur_px = band.blur_px * scale;
  out.energy = out.relative.dot(out.relative);
  out.reach = cvCeil(kBaselineReach * kCoarse);
  return out;
}

/// Agreement of one letter with the band for every pen column (rows: baselines from -reach to
/// reach); beyond the band there is ground of no say.
cv::Mat Agreement(const Coarse& band, const LetterTemplate& letter) {
  const int first = cvRound(band.baseline) - band.reach - letter.origin.y;
  const int rows = 2 * band.reach + letter.coverage.rows;
  const int left = letter.origin.x;
  const int right = letter.coverage.cols - 1 - left;
  const int pad = std::max({0, left, right, -first, first + rows - band.relative.rows});
  cv::Mat padded;
  cv::copyMakeBorder(band.relative, padded, pad, pad, pad, pad, cv::BORDER_CONSTANT, 0);
  const cv::Rect around(pad - left, pad + first, band.relative.cols + letter.coverage.cols - 1,
                        rows);
  cv::Mat out;
  cv::matchTemplate(padded(around), letter.coverage, out, cv::TM_CCORR);
  return out;
}

struct Placed {
  double score = -1;
  std::vector<double> pen;
};

/// The letters' best places on one baseline at one tracking.
Placed PlaceAlong(const std::vector<const LetterTemplate*>& letters,
                  const std::vector<const cv::Mat*>& agreement, int row, double size_px,
                  double tracking) {
  const int columns = agreement.front()->cols;
  std::vector<float> best(agreement.front()->ptr<float>(row),
                          agreement.front()->ptr<float>(row) + columns);
  std::vector<std::vector<short>> from(letters.size());
  double advance = letters.front()->advance + tracking * size_px;
  bool after_space = false;
  for (std::size_t i = 1; i < letters.size(); ++i) {
    if (agreement[i] == nullptr) {
      advance += letters[i]->advance + tracking * size_px;
      after_space = true;
      continue;
    }
    const double play = (after_space ? kPlayOfSpace : kPlay) * size_px;
    const int most = std::max(1, cvRound(play));
    const double price = kPlayPrice * letters[i]->squares / (play * play);
    const float* own = agreement[i]->ptr<float>(row);
    std::vector<float> next(static_cast<std::size_t>(columns), -1e9f);
    from[i].assign(static_cast<std::size_t>(columns), -1);
    for (int x = 0; x < columns; ++x) {
      const double expected = x - advance;
      const int nearest = cvRound(expected);
      for (int before = std::max(0, nearest - most);
           before <= std::min(columns - 1, nearest + most); ++before) {
        const double off = expected - before;
        const auto value = static_cast<float>(best[before] + own[x] - price * off * off);
        if (value <= next[x]) continue;
        next[x] = value;
        from[i][x] = static_cast<short>(before);
      }
    }
    best = std::move(next);
    advance = letters[i]->advance + tracking * size_px;
    after_space = false;
  }
  const auto top = std::max_element(best.begin(), best.end());
  Placed out;
  out.score = *top;
  out.pen.assign(letters.size(), 0);
  int x = static_cast<int>(top - best.begin());
  for (std::size_t i = letters.size(); i-- > 0;) {
    out.pen[i] = x;
    if (i > 0 && !from[i].empty()) x = from[i][static_cast<std::size_t>(x)];
    if (x < 0) return {};
  }
  return out;
}

/// Fits strings in one face at one size.
class StringFitter {
 public:
  StringFitter(const Coarse& band, LetterTemplates& templates, int face, double size, double widen)
      : band_(band), templates_(templates), face_(face), size_(size), widen_(widen) {
    drawn_.px_per_cap = kCoarse * size;
    drawn_.widen = widen;
    drawn_.blur_px = band.blur_px;
  }

  std::optional<StringFit> Fit(const std::string& text) {
    const auto characters = outline::Characters(text);
    std::vector<const LetterTemplate*> letters;
    std::vector<const cv::Mat*> agreement;
    double sum = 0;
    double squares = 0;
    for (const auto& c : characters) {
      const LetterTemplate* letter = templates_.Get(c, drawn_);
      if (letter == nullptr) return {};
      letters.push_back(letter);
      agreement.push_back(letter->coverage.empty() ? nullptr : &AgreementOf(c, *letter));
      sum += letter->sum;
      squares += letter->squares;
    }
    if (letters.empty() || agreement.front() == nullptr) return {};
    const double pixels = static_cast<double>(band_.relative.total());
    const double energy = squares - sum * sum / pixels;
    if (!(energy > 0) || !(band_.energy > 0)) return {};
    StringFit out;
    out.text = text;
    out.correlation = -1;
    double best = -1e9;
    for (const double tracking : kTrackings) {
      for (int row = 0; row <= 2 * band_.reach; ++row) {
        Placed placed = PlaceAlong(letters, agreement, row, drawn_.px_per_cap, tracking);
        if (placed.score <= best) continue;
        best = placed.score;
        out.pen = std::move(placed.pen);
        out.baseline = cvRound(band_.baseline) - band_.reach + row;
        out.tracking = tracking;
      }
    }
    out.face = face_;
    out.size = size_;
    out.widen = widen_;
    out.correlation = best / std::sqrt(energy * band_.energy);
    return out;
  }

 private:
  const cv::Mat& AgreementOf(const std::string& character, const LetterTemplate& letter) {
    auto [at, is_new] = agreement_.try_emplace(character);
    if (is_new) at->second = Agreement(band_, letter);
    return at->second;
  }

  const Coarse& band_;
  LetterTemplates& templates_;
  int face_;
  double size_;
  double widen_;
  Drawn drawn_;
  std::map<std::string, cv::Mat> agreement_;
};

/// Correlation over a window of the band, of which `drawn` covers it.
double CorrelationWithin(const cv::Mat& band, const cv::Mat& drawn, const cv::Rect& window) {
  const cv::Rect inside = window & cv::Rect(cv::Point(0, 0), band.size());
  if (inside.area() < 9) return 0;
  cv::Mat a = band(inside).clone();
  cv::Mat b = drawn(inside).clone();
  a -= cv::mean(a)[0];
  b -= cv::mean(b)[0];
  const double energy = a.dot(a) * b.dot(b);
  return energy > 0 ? a.dot(b) / std::sqrt(energy) : 0;
}

/// The smallest correlation of a word within its own surroundings.
double LeastWord(const Coarse& band, LetterTemplates& templates, const StringFit& fit) {
  Drawn style;
  style.px_per_cap = kCoarse * fit.size;
  style.widen = fit.widen;
  style.blur_px = band.blur_px;
  const auto characters = outline::Characters(fit.text);
  cv::Mat drawn = cv::Mat::zeros(band.relative.size(), CV_32F);
  struct Word {
    double left = 1e9;
    double right = -1e9;
    int letters = 0;
  };
  std::vector<Word> words(1);
  const int baseline = cvRound(fit.baseline);
  for (std::size_t i = 0; i < characters.size(); ++i) {
    const LetterTemplate* letter = templates.Get(characters[i], style);
    if (letter == nullptr || letter->coverage.empty()) {
      words.emplace_back();
      continue;
    }
    ++words.back().letters;
    words.back().left = std::min(words.back().left, fit.pen[i] + letter->left);
    words.back().right = std::max(words.back().right, fit.pen[i] + letter->right);
    const cv::Rect place(cvRound(fit.pen[i]) - letter->origin.x, baseline - letter->origin.y,
                         letter->coverage.cols, letter->coverage.rows);
    const cv::Rect inside = place & cv::Rect(cv::Point(0, 0), drawn.size());
    if (inside.area() > 0) drawn(inside) += letter->coverage(inside - place.tl());
  }
  constexpr double kAside = 0.15;
  constexpr double kAbove = 1.12;
  constexpr double kBelow = 0.33;
  double least = 1;
  int longest = 0;
  for (const Word& word : words) longest = std::max(longest, word.letters);
  for (const Word& word : words) {
    if (word.letters < (longest > 2 ? 3 : 1)) continue;
    const cv::Rect window(cv::Point(cvRound(word.left - kAside * style.px_per_cap),
                                    cvRound(baseline - kAbove * style.px_per_cap)),
                          cv::Point(cvRound(word.right + kAside * style.px_per_cap) + 1,
                                    cvRound(baseline + kBelow * style.px_per_cap) + 1));
    least = std::min(least, CorrelationWithin(band.relative, drawn, window));
  }
  return least;
}

}  // namespace

std::vector<const typeset::GeneralFace*> FacesFor(const LineBand& band) {
  std::vector<const typeset::GeneralFace*> faces;
  for (const auto& face : typeset::GeneralFaces()) faces.push_back(&face);
  if (!band.own.glyphs.empty()) faces.push_back(&band.own);
  return faces;
}

std::vector<StringFit> FitStrings(const LineBand& band, const std::vector<std::string>& texts) {
  std::vector<StringFit> best(texts.size());
  for (std::size_t k = 0; k < texts.size(); ++k) best[k].text = texts[k];
  if (band.coverage.empty()) return best;
  const Coarse coarse = Coarsened(band);
  const auto faces = FacesFor(band);
  for (std::size_t f = 0; f < faces.size(); ++f) {
    LetterTemplates templates(*faces[f]);
    std::vector<StringFit> own(texts.size());
    const auto at_size = [&](double size, double widen, std::size_t only) {
      StringFitter fitter(coarse, templates, static_cast<int>(f), size, widen);
      for (std::size_t k = 0; k < texts.size(); ++k) {
        if (only < texts.size() && k != only) continue;
        auto fit = fitter.Fit(texts[k]);
        if (fit && fit->correlation > own[k].correlation) own[k] = std::move(*fit);
      }
    };
    for (int step = -3; step <= 3; ++step) at_size(std::pow(1.1, step), 1, texts.size());
    for (std::size_t k = 0; k < texts.size(); ++k) {
      if (own[k].pen.empty()) continue;
      const double size = own[k].size;
      at_size(0.95 * size, 1, k);
      at_size(1.05 * size, 1, k);
      for (const double widen : {0.65, 0.73, 0.82, 0.91, 1.1, 1.2}) at_size(own[k].size, widen, k);
      if (own[k].correlation <= best[k].correlation) continue;
      own[k].least_word = LeastWord(coarse, templates, own[k]);
      best[k] = own[k];
    }
  }
  // From the coarse band's pixels to the band's own.
  const double scale = band.px_per_cap / kCoarse;
  for (StringFit& fit : best) {
    fit.baseline = (fit.baseline + 0.5) * scale - 0.5;
    for (double& x : fit.pen) x = (x + 0.5) * scale - 0.5;
  }
  return best;
}

namespace {

constexpr double kMargin = 0.1;
constexpr double kClearBody = 0.15;

/// Small letters with or without capital initials, which agree in all but a few letters: by the
/// initials, and by the line as a whole. Where the two contradict each other nothing is told.
void TellInitials(const LineBand& band, const StringFit& title, const StringFit& small,
                  outline::LineCase given, CaseReading& out, outline::LineCase& seen) {
  using outline::LineCase;
  constexpr double kMarginOfMixed = 0.3;
  constexpr double kContradicts = 0.03;
  const bool as_title = title.correlation >= small.correlation;
  const InitialsReading initials = ReadInitials(band, as_title ? title : small);
  const double whole = BetterBy(title.correlation, small.correlation);
  out.initials = initials.margin;
  const bool contradicts = initials.margin * whole < 0 && std::abs(whole) > kContradicts;
  out.margin = contradicts ? 0 : std::min(out.margin, std::abs(initials.margin));
  // Linking words are short: unless they speak clearly the line keeps the case that it was given
  // in.
  const bool mixed = given == LineCase::kMixed ? initials.links_small > -kMarginOfMixed
                                               : initials.links_small > kMarginOfMixed;
  seen = initials.margin <= 0 ? LineCase::kSmall : mixed ? LineCase::kMixed : LineCase::kTitle;
  out.fit = seen == LineCase::kSmall ? small : title;
}

}  // namespace

CaseReading ReadCase(const LineBand& band, const std::string& text) {
  using outline::LineCase;
  constexpr double kLeastCorrelation = 0.4;
  constexpr double kLeastWord = 0.5;
  const LineCase given = outline::CaseOfText(text);
  const bool irregular = given == LineCase::kMixed && outline::InCase(text, given) != text;
  // The time grows with the square of the length; no line that is stamped is longer.
  constexpr std::size_t kMostCharacters = 80;
  if (outline::Characters(text).size() > kMostCharacters) return {};
  std::vector<std::string> texts;
  for (const auto which : {LineCase::kCapitals, LineCase::kTitle, LineCase::kSmall}) {
    texts.push_back(outline::InCase(text, which));
  }
  if (irregular) texts.push_back(text);
  const std::vector<StringFit> fits = FitStrings(band, texts);
  const StringFit& other = fits[2].correlation > fits[1].correlation ? fits[2] : fits[1];
  CaseReading out;
  out.body = BetterBy(fits[0].correlation, other.correlation);
  LineCase seen = LineCase::kCapitals;
  out.fit = out.body >= 0 ? fits[0] : other;
  out.margin = std::abs(out.body);
  if (irregular) {
    const double own = BetterBy(fits[3].correlation, out.fit.correlation);
    if (own > 0) {
      seen = given;
      out.fit = fits[3];
      out.margin = own;
    } else {
      out.margin = std::min(out.margin, -own);
    }
  }
  // A body that hardly says anything is held against the initials too.
  if (seen != given || !irregular) {
    if (out.body < 0) TellInitials(band, fits[1], fits[2], given, out, seen);
    if (out.body >= 0 && out.body < kClearBody) {
      out.initials = ReadInitials(band, other).margin;
      if (out.initials < -kMargin) out.margin = 0;
    }
  }
  const bool told = out.margin >= kMargin && out.fit.correlation >= kLeastCorrelation &&
                    out.fit.least_word >= kLeastWord;
  if (told) out.line_case = seen;
  return out;
}

}  // namespace debossier::reading
